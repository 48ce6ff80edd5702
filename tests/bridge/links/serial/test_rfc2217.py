"""RFC 2217 against two servers that are not ours: pyserial's (in memory) and ser2net (a process); and against bad ones.

The numbers in the frames are those of the RFC as read in pyserial 3.5; `9600 set = FF FA 2C 01 00 00 25 80 FF F0` is
derived from its text.
"""

import asyncio
import termios
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from serial import rfc2217 as pyserial

from neckyoke.bridge.config.address import parse_address
from neckyoke.bridge.links.serial import rfc2217
from neckyoke.bridge.links.serial.com_port import ComPort, escape
from neckyoke.bridge.links.serial.port import port_settings
from neckyoke.bridge.links.wires.link import LinkTrouble
from tests.support.running import run
from tests.support.wires import Listener, Rfc2217Wire, opened, wire


class Port:
    """What pyserial's server sets: a serial port in name."""

    def __init__(self) -> None:
        self.baudrate, self.bytesize, self.parity, self.stopbits = 1200, 8, "N", 1
        self.rtscts = self.xonxoff = self.dtr = self.rts = False
        self.break_condition = False
        self.cts = self.dsr = self.ri = self.cd = False


class Wired:
    """pyserial's server on one end of nothing: `feed` goes to it, what it answers goes to our client."""

    def __init__(self, options: str) -> None:
        self.client = ComPort(port_settings(parse_address(f"rfc2217://host:1?{options}")))
        self.port = Port()
        self._out = bytearray()
        port, connection = self.port, self
        self.server = pyserial.PortManager(port, connection)  # type: ignore[arg-type]  # typed narrower than it is
        self.received = bytearray()

    def write(self, data: bytes) -> None:
        self._out += data

    def agree(self) -> None:
        to_server = self.client.hello()
        for _ in range(20):
            self.received += b"".join(self.server.filter(to_server))
            payload, to_server = self.client.feed(self.take())
            assert payload == b""
            if not to_server and not self._out:
                return
        pytest.fail("they go on for ever")

    def take(self) -> bytes:
        data = bytes(self._out)
        self._out.clear()
        return data


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        ("", {"baudrate": 9600, "bytesize": 8, "parity": "N", "stopbits": 1}),
        ("baud=4800&bits=7&parity=even&stop=2", {"baudrate": 4800, "bytesize": 7, "parity": "E", "stopbits": 2}),
        ("parity=odd&stop=1.5", {"parity": "O", "stopbits": 1.5}),
        ("flow=rtscts", {"rtscts": True, "xonxoff": False}),
        ("flow=xonxoff", {"rtscts": False, "xonxoff": True}),
        ("dtr=on&rts=on", {"dtr": True, "rts": True}),
        ("baud=115200&dtr=off", {"baudrate": 115200, "dtr": False}),
    ],
)
def test_pyserials_server_sets_what_is_asked(options: str, expected: dict[str, Any]) -> None:
    wired = Wired(options)
    wired.agree()
    assert wired.client.ready
    assert wired.client.refused is None
    assert {key: getattr(wired.port, key) for key in expected} == expected
    assert bytes(wired.received) == b""


@given(st.binary(max_size=200), st.binary(max_size=200))
@settings(max_examples=60, deadline=None)
def test_data_passes_both_ways_unchanged(there: bytes, back: bytes) -> None:
    wired = Wired("")
    wired.agree()
    assert b"".join(wired.server.filter(escape(there))) == there
    wired.write(b"".join(wired.server.escape(back)))
    assert wired.client.feed(wired.take()) == (back, b"")


def test_the_request_for_a_baud_rate_is_spelled_as_the_rfc_says() -> None:
    client = ComPort(port_settings(parse_address("rfc2217://host:1")))
    client.hello()
    _, answer = client.feed(bytes.fromhex("fffd2c"))
    assert bytes.fromhex("fffa2c0100002580fff0") in answer


@given(st.lists(st.binary(max_size=40), max_size=10))
@settings(max_examples=100, deadline=None)
def test_any_bytes_of_a_server_raise_nothing_and_answers_are_bounded(chunks: list[bytes]) -> None:
    client = ComPort(port_settings(parse_address("rfc2217://host:1")))
    client.hello()
    for chunk in chunks:
        payload, answer = client.feed(chunk)
        assert len(payload) <= len(chunk)
        assert len(answer) <= 3 * len(chunk) + 100


@given(st.binary(max_size=200), st.lists(st.integers(0, 200), max_size=8))
@settings(max_examples=60, deadline=None)
def test_it_makes_no_difference_how_the_stream_is_cut(data: bytes, cuts: list[int]) -> None:
    stream = bytes.fromhex("fffd2cfffb00") + escape(data) + bytes.fromhex("fffa2c6500002580fff0") + escape(data)
    whole, pieces = (ComPort(port_settings(parse_address("rfc2217://host:1"))) for _ in range(2))
    places = sorted({0, len(stream), *(cut for cut in cuts if cut < len(stream))})
    fed = [pieces.feed(stream[start:end]) for start, end in pairwise(places)]
    assert (b"".join(one for one, _ in fed), b"".join(two for _, two in fed)) == whole.feed(stream)


def test_an_offer_is_answered_once_and_never_in_a_loop() -> None:
    client = ComPort(port_settings(parse_address("rfc2217://host:1")))
    offer = bytes.fromhex("fffb63fffd63")  # an option nobody knows
    assert client.feed(offer)[1] == bytes.fromhex("fffe63fffc63")
    assert client.feed(offer)[1] == b""


def test_ser2net_sets_its_port(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async def work() -> None:
        async with wire("rfc2217", tmp_path, monkeypatch) as one:
            assert isinstance(one, Rfc2217Wire)
            listener = await opened(one.url.replace("baud=9600", "baud=4800&bits=8&parity=odd&stop=2"))
            _, _, cflag, _, speed, _, _ = termios.tcgetattr(one.end._slave)
            assert speed == termios.B4800
            assert cflag & termios.CSTOPB
            await listener.link.close()

    run(work())


def test_a_device_unplugged_from_ser2net_is_lost_and_comes_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def work() -> None:
        async with wire("rfc2217", tmp_path, monkeypatch) as one:
            assert isinstance(one, Rfc2217Wire)
            for number in range(3):
                listener = await opened(one.url)
                line = b"%d ST,GS,+00412.5kg\r\n" % number
                one.write(line)
                await listener.has(line)
                one.end.unplug()
                await listener.is_lost()
                await listener.link.close()
                one.end.plug()

    run(work())


async def against(answer: bytes | None, url_options: str = "") -> LinkTrouble:
    """Open against a server that answers with these bytes (None: hangs up)."""

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(100)
        if answer is not None:
            writer.write(answer)
            await reader.read()
        writer.close()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    listener = Listener(f"rfc2217://127.0.0.1:{port}{url_options}")
    with pytest.raises(LinkTrouble) as trouble:
        await listener.link.open()
    server.close()
    await server.wait_closed()
    await asyncio.sleep(0.05)
    assert listener.lost == []
    return trouble.value


@pytest.mark.usefixtures("no_leaks")
def test_bad_servers_are_said_with_what_to_write(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rfc2217, "AGREE_S", 0.3)
    plain = run(against(b"ST,GS,+00412.5kg\r\n"))
    assert "write tcp://127.0.0.1" in plain.text
    refuses = run(against(bytes.fromhex("fffe2c")))
    assert "does not do RFC 2217" in refuses.text
    other = run(against(bytes.fromhex("fffd2cfffa2c6500004b00fff0")))
    assert "cannot set baud as asked (it set 19200)" in other.text
    gone = run(against(None))
    assert "ended the connection" in gone.text
