"""A broker of few words in a process of its own: whatever weighing it is given it writes down before it says so.

    python -m tests.support.mqtt_recorder PORT FOLDER [CERTIFICATE KEY]

It appends a line a weighing to FOLDER/taken.jsonl, syncs nothing, and keeps nothing else.  FOLDER/answer holds the
reason code that it acknowledges with, when there is one, FOLDER/once the numbers of weighings that it refuses so when
they come for the first time and no others, and FOLDER/token the password that it asks for.  What a real broker does
beside is tried on mosquitto; its own memory does not outlive SIGKILL, so that it cannot show that nothing acknowledged
is lost.  Source: MQTT 5.0 (OASIS 2019), 2.1 the fixed header, 3.1 to 3.14 the packets.
"""

import asyncio
import json
import ssl
import sys
from pathlib import Path

CONNECT, CONNACK, PUBLISH, PUBACK, SUBSCRIBE, SUBACK, PINGREQ, PINGRESP, DISCONNECT = 1, 2, 3, 4, 8, 9, 12, 13, 14
BAD_PASSWORD = 0x86


class Bytes:
    """A packet's body, read from its beginning."""

    def __init__(self, data: bytes) -> None:
        self.left = data

    def take(self, count: int) -> bytes:
        taken, self.left = self.left[:count], self.left[count:]
        return taken

    def number(self, count: int = 2) -> int:
        return int.from_bytes(self.take(count), "big")

    def text(self) -> str:
        return self.take(self.number()).decode()

    def skip_properties(self) -> None:
        length = shift = 0
        while True:
            byte = self.number(1)
            length |= (byte & 127) << shift
            shift += 7
            if byte < 128:
                break
        self.take(length)


class Talk:
    """One client."""

    def __init__(
        self, folder: Path, came: set[str], reader: asyncio.StreamReader, writer: asyncio.StreamWriter
    ) -> None:
        self._folder, self._reader, self._writer = folder, reader, writer
        self._came = came

    def setting(self, name: str) -> str:
        try:
            return (self._folder / name).read_text().strip()
        except FileNotFoundError:
            return ""

    async def run(self) -> None:
        try:
            while True:
                first = (await self._reader.readexactly(1))[0]
                body = Bytes(await self._reader.readexactly(await self._length()))
                if not self._took(first >> 4, first, body):
                    break
                await self._writer.drain()
        except (asyncio.IncompleteReadError, OSError):
            pass
        finally:
            self._writer.close()

    async def _length(self) -> int:
        length = shift = 0
        while True:
            byte = (await self._reader.readexactly(1))[0]
            length |= (byte & 127) << shift
            shift += 7
            if byte < 128:
                return length

    def _say(self, kind: int, body: bytes) -> None:
        self._writer.write(bytes([kind << 4, len(body)]) + body)

    def _took(self, kind: int, first: int, body: Bytes) -> bool:
        """Answer a packet: False when that was the last."""
        if kind == CONNECT:
            return self._connect(body)
        if kind == PUBLISH:
            self._publish(first >> 1 & 3, body)
        elif kind == SUBSCRIBE:
            self._subscribe(body)
        elif kind == PINGREQ:
            self._say(PINGRESP, b"")
        return kind != DISCONNECT

    def _connect(self, body: Bytes) -> bool:
        body.text()
        assert body.number(1) == 5, "version 5 alone"
        flags = body.number(1)
        body.number()
        body.skip_properties()
        body.text()
        if flags & 4:
            body.skip_properties()
            body.text()
            body.text()
        if flags & 128:
            body.text()
        password = body.text() if flags & 64 else ""
        code = BAD_PASSWORD if self.setting("token") not in {"", password} else 0
        self._say(CONNACK, bytes([0, code, 0]))
        return not code

    def _publish(self, qos: int, body: Bytes) -> None:
        topic = body.text()
        packet = body.take(2) if qos else b""
        body.skip_properties()
        answer = 0
        if topic.endswith("/weighing"):
            event = json.loads(body.left)
            answer = int(self.setting("answer") or 0)
            if once := self.setting("once"):
                number = str(event["data"]["number"])
                answer = answer if number in once.split() and number not in self._came else 0
                self._came.add(number)
            if not answer:
                with (self._folder / "taken.jsonl").open("a") as out:
                    out.write(json.dumps(event) + "\n")
        if qos:
            self._say(PUBACK, packet + bytes([answer]))

    def _subscribe(self, body: Bytes) -> None:
        packet = body.take(2)
        body.skip_properties()
        codes = bytearray()
        while body.left:
            body.text()
            codes.append(body.number(1) & 1)
        self._say(SUBACK, packet + b"\0" + bytes(codes))


async def serve(port: int, folder: Path, *certificate: str) -> None:
    """Serve until killed."""
    context = None
    if certificate:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(*certificate)

    came: set[str] = set()

    async def talk(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await Talk(folder, came, reader, writer).run()

    server = await asyncio.start_server(talk, "127.0.0.1", port, ssl=context)
    await server.serve_forever()


if __name__ == "__main__":
    asyncio.run(serve(int(sys.argv[1]), Path(sys.argv[2]), *sys.argv[3:]))
