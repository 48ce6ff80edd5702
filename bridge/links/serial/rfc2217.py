"""A serial port on another machine by RFC 2217: TCP with the port's settings sent along (com_port.py)."""

import asyncio

from neckyoke.bridge.config.address import Address
from neckyoke.bridge.links.serial.com_port import ComPort, escape
from neckyoke.bridge.links.serial.port import port_settings
from neckyoke.bridge.links.wires.link import LinkTrouble, OnBytes, OnLost
from neckyoke.bridge.links.wires.tcp import TcpLink

AGREE_S = 5.0


class Rfc2217Link(TcpLink):
    """A TCP connection whose far end sets its serial port as we ask."""

    def __init__(self, address: Address, on_bytes: OnBytes, on_lost: OnLost) -> None:
        super().__init__(address, on_bytes, on_lost)
        self._port_side = ComPort(port_settings(address))
        self._agreed = asyncio.Event()

    async def _connect(self) -> None:
        await super()._connect()
        await super()._send(self._port_side.hello())
        try:
            async with asyncio.timeout(AGREE_S):
                await self._agreed.wait()
        except TimeoutError:
            raise LinkTrouble(
                f"{self._where} does not answer as RFC 2217: if it sends the plain bytes of a serial port, write "
                f"tcp://{self._where} and set the port's speed at the server"
            ) from None
        if self._port_side.refused:
            raise LinkTrouble(f"the serial server at {self._where} refuses: {self._port_side.refused}")
        if not self._port_side.ready:
            raise LinkTrouble(f"{self._where} ended the connection before the port was set: is another using it?")

    def arrived(self, data: bytes) -> None:
        """Take bytes of the connection; commands are answered here."""
        payload, answer = self._port_side.feed(data)
        if answer and self._transport is not None:
            self._transport.write(answer)
        if self._port_side.ready or self._port_side.refused:
            self._agreed.set()
        if payload:
            self._deliver(payload)

    def ended(self, error: Exception | None) -> None:
        """Take note of its end, also in the midst of agreeing."""
        self._agreed.set()
        super().ended(error)

    async def _send(self, data: bytes) -> None:
        await super()._send(escape(data))
