"""The one place that uses private parts of aiomqtt 2 and paho 2: what each is for stands beside it.

aiomqtt 3 has most of this by itself (and needs a compiled core); until then pyproject.toml holds aiomqtt below 3, and
tests/bridge/outlets/test_mqtt_wire.py holds each of these to a real broker.
"""

import asyncio
from typing import Any

import aiomqtt
from paho.mqtt.client import MQTTMessageInfo


class Seam(aiomqtt.Client):
    """A client whose end can be waited for, and whose acknowledgements say why not."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.acknowledgements: dict[int, asyncio.Future[int]] = {}
        self.fault: OSError | None = None
        self.lost_at_once: BaseException | None = None
        self.largest: int | None = None  # bytes of a packet that the broker takes, where it says so
        self._has_to_write = False

    @property
    def ended(self) -> "asyncio.Future[Any]":
        """Done when the connection is lost: a wait is raced with it, where aiomqtt's own sits out its timeout."""
        return self._disconnected

    def send(self, *message: Any) -> MQTTMessageInfo:
        """Publish as paho does, without waiting; aiomqtt's tells neither the message's id nor the reason code."""
        return self._client.publish(*message)

    def drop(self) -> None:
        """Leave no socket and no task behind, however far connecting has got; look at what was raised to nobody."""
        self._client._sock_close()  # noqa: SLF001
        for lost in (one for one in (self._connected, self._disconnected) if one.done() and not one.cancelled()):
            lost.exception()

    def _client_connect(self) -> None:
        try:
            super()._client_connect()
        except OSError as error:
            self.fault = error  # aiomqtt keeps its text only
            raise

    def _on_connect(self, client: Any, userdata: Any, flags: Any, reason_code: Any, properties: Any = None) -> None:
        self.largest = getattr(properties, "MaximumPacketSize", None)
        super()._on_connect(client, userdata, flags, reason_code, properties)

    def _on_publish(self, client: Any, userdata: Any, mid: int, reason_code: Any, properties: Any) -> None:
        if (future := self.acknowledgements.pop(mid, None)) is not None and not future.done():
            future.set_result(getattr(reason_code, "value", reason_code))
        super()._on_publish(client, userdata, mid, reason_code, properties)

    def _on_disconnect(self, client: Any, userdata: Any, flags: Any, reason_code: Any, properties: Any = None) -> None:
        if not self._connected.done():  # hung up on before the greeting: aiomqtt would wait for its whole timeout
            self._connected.set_exception(aiomqtt.MqttError("it hung up before the greeting; is this an MQTT port?"))
            return
        super()._on_disconnect(client, userdata, flags, reason_code, properties)
        if self._disconnected.done():  # in the same breath as the greeting: aiomqtt forgets it
            self.lost_at_once = self._disconnected.exception()

    def _on_socket_register_write(self, client: Any, userdata: Any, sock: Any) -> None:  # noqa: ARG002
        """Watch the socket for room, unless by then there is nothing to write: aiomqtt's loop would spin for ever."""
        self._has_to_write = True

        def watch() -> None:
            if self._has_to_write and sock.fileno() >= 0:
                self._loop.add_writer(sock.fileno(), self._write, client)

        self._loop.call_soon_threadsafe(watch)  # paho may be in the thread that connects

    def _write(self, client: Any) -> None:
        try:
            client.loop_write()
        except Exception as error:  # noqa: BLE001  # whatever it is, the connection is gone, as aiomqtt has it
            if not self._disconnected.done():
                self._disconnected.set_exception(error)

    def _on_socket_unregister_write(self, client: Any, userdata: Any, sock: Any) -> None:
        self._has_to_write = False
        if sock.fileno() >= 0:
            super()._on_socket_unregister_write(client, userdata, sock)
