"""Simulated sites for tests/bench/sheds.py: protocol-true MQTT 3.1.1 publishers, thousands in one process.

A site is one TCP connection that says CONNECT with a will, and publishes its weighings one after the other with QoS 1,
each only after the acknowledgement of the one before: what the daemon's outlet does while it keeps up.  A connection
that is lost is made again, and what was not acknowledged is sent again (MQTT 3.1.1, sections 3.1, 3.3, 3.4).
"""

import asyncio
import contextlib
import json
import random
import struct
import time

from tests.support.events import weighing


def _text(text: str) -> bytes:
    data = text.encode()
    return struct.pack("!H", len(data)) + data


def _packet(kind: int, body: bytes) -> bytes:
    size, length = len(body), bytearray()
    while True:
        size, digit = divmod(size, 128)
        length.append(digit | (0x80 if size else 0))
        if not size:
            return bytes([kind]) + bytes(length) + body


class Site:
    """One site.  `sent` counts what the broker has acknowledged, `again` what was sent more than once."""

    def __init__(self, number: int, port: int) -> None:
        self.name, self._port = f"shed-{number}", port
        self.sent = self.again = self.connects = 0
        self._template = weighing(1)

    def _event(self, number: int) -> bytes:
        data = json.loads(self._template.model_dump_json())
        data |= {"weighing": f"{self.name}/{number}", "number": number, "revision": 1}
        event = {
            "specversion": "1.0", "id": f"{self.name}/{number}", "source": f"/{self.name}/crush",
            "type": "neckyoke.weighing", "time": data["off"], "datacontenttype": "application/json",
            "dataschema": "urn:neckyoke:weighing:1", "sequence": f"{number:010d}", "data": data,
            "sentat": str(time.time()),
        }  # fmt: skip
        return json.dumps(event, separators=(",", ":")).encode()

    async def publish(self, animals: int, pause_s: float) -> None:
        """Publish until all are acknowledged."""
        sent_once = 0
        while self.sent < animals:
            writer = None
            try:
                reader, writer = await asyncio.open_connection("127.0.0.1", self._port)
                await self._connect(reader, writer)
                while self.sent < animals:
                    await asyncio.sleep(random.random() * pause_s)  # animals come when they come
                    self.again += self.sent < sent_once
                    sent_once = max(sent_once, self.sent + 1)
                    topic = _text(f"neckyoke/{self.name}/crush/weighing")
                    body = topic + struct.pack("!H", self.sent % 65535 + 1) + self._event(self.sent + 1)
                    writer.write(_packet(0x32, body))
                    await reader.readexactly(4)
                    self.sent += 1
            except (OSError, EOFError):
                await asyncio.sleep(0.5 + random.random())
            finally:
                if writer is not None:
                    writer.close()
                    with contextlib.suppress(OSError):
                        await writer.wait_closed()

    async def _connect(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.connects += 1
        will = _text(f"neckyoke/{self.name}/status") + _text('{"state":"offline"}')
        writer.write(_packet(0x10, _text("MQTT") + bytes([4, 0x2E]) + struct.pack("!H", 600) + _text(self.name) + will))
        answer = await reader.readexactly(4)
        if answer[3]:
            raise ConnectionError(f"refused with {answer[3]}")
