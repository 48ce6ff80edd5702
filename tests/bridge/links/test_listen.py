"""Listening to devices nobody has described: over a pty whose bytes depend on the speed it is set to, and other wires.

A pty has no speed of its own (and always eight bits), so its end here looks at what the port was set to and sends what
a receiver with these settings would make of the line: tests/protocols/streams.py works that out bit by bit (`uart`).
"""

import asyncio
import contextlib
import tomllib
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.capture.format import Bytes
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.cli import main
from neckyoke.bridge.commands import listen as command
from neckyoke.bridge.config.address import parse_address
from neckyoke.bridge.config.model import LinkTable, Poll
from neckyoke.bridge.links import listen as listening
from neckyoke.bridge.links.listen import Chunk, Ended, Frame, Step, Tried, listen, spell_address, with_options
from neckyoke.bridge.links.serial import port as serial
from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.protocols.readings import TagRead, WeightReading
from neckyoke.protocols.recognise import Kind, Sure
from neckyoke.simulators.bluetooth.ends import WEIGHT, BleEnd
from neckyoke.simulators.wires.ends import PtyEnd, TcpEnd
from tests.protocols.streams import Port, crossing, uart
from tests.support.running import run, until
from tests.support.wires import radio_bench


def frames(count: int = 4000) -> Iterator[bytes]:
    """Frames of an indicator while animals come and go."""
    for show in crossing(10, count / 10, seed=1):
        status = b"ST" if show.stable else b"US"
        yield status + b",GS,%+08.1fkg\r\n" % (show.tenths / 10)


@pytest.fixture
def receiver(monkeypatch: pytest.MonkeyPatch) -> list[Port]:
    """Return what ports are set to, the latest last; what a pty cannot do is not asked of it."""
    ports = [Port(9600)]
    real = serial._open_port

    def open_port(path: str, settings: dict[str, Any]) -> serial.Port:
        ports.append(Port(settings["baudrate"], settings["bytesize"], settings["parity"]))
        return real(path, {**settings, "bytesize": 8, "parity": "N"})

    monkeypatch.setattr(serial, "_open_port", open_port)
    return ports


@contextlib.asynccontextmanager
async def speaking(end: PtyEnd, sender: Port, receiver: list[Port]) -> AsyncIterator[None]:
    """Have an indicator send frames for as long as it is listened to."""

    async def speak() -> None:
        for frame in frames():
            end.write(uart([frame], sender, receiver[-1]))
            await asyncio.sleep(0.005)

    task = asyncio.ensure_future(speak())
    try:
        yield
    finally:
        task.cancel()
        await asyncio.wait({task})


@pytest.mark.parametrize(
    ("sender", "options"),
    [
        (Port(9600), {"baud": "9600"}),
        (Port(4800), {"baud": "4800"}),
        (Port(19200), {"baud": "19200"}),
        (Port(2400, 7, "E"), {"baud": "2400", "bits": "7", "parity": "even"}),
        (Port(9600, 7, "O"), {"baud": "9600", "bits": "7", "parity": "odd"}),
    ],
    ids=lambda value: value.name if isinstance(value, Port) else "",
)
def test_speed_parity_and_layout_are_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, receiver: list[Port], sender: Port, options: dict[str, str]
) -> None:
    monkeypatch.setattr(listening, "DWELL_S", 1.0)
    said: list[Step] = []

    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:
            async with speaking(end, sender, receiver):
                heard = await listen(f"serial:{end.path}", 2.0, said.append)
            assert dict(parse_address(heard.url).options) == options
            assert heard.finding.kind is Kind.SCALE
            assert heard.finding.layout not in {None, "own"}
            table = tomllib.loads(heard.finding.toml("indicator", heard.url))["links"]["indicator"]
            assert LinkTable.model_validate(table).url == heard.url

    run(work())
    assert any(isinstance(one, Frame) and isinstance(one.outcome, WeightReading) for one in said)
    tried = [one for one in said if isinstance(one, Tried)]
    assert tried[-1].score >= listening.GOOD
    assert all(one.score < listening.GOOD for one in tried[:-1])


def test_a_silent_port_is_said_to_be_silent_at_the_first_speed(tmp_path: Path) -> None:
    said: list[Step] = []

    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:
            heard = await listen(f"serial:{end.path}", 0.2, said.append)
            assert heard.finding.sure is Sure.UNSURE
            assert heard.finding.kind is Kind.UNKNOWN
            assert heard.url.endswith("?baud=9600")

    run(work())
    assert said == [Tried("9600", 0, 0.0)]


def test_noise_at_every_speed_is_no_finding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listening, "DWELL_S", 0.2)

    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:

            async def hiss() -> None:
                while True:
                    end.write(bytes.fromhex("00e6f81e66809cf0") * 4)
                    await asyncio.sleep(0.01)

            task = asyncio.ensure_future(hiss())
            heard = await listen(f"serial:{end.path}", 0.3, lambda _: None)
            task.cancel()
            assert heard.finding.sure is Sure.UNSURE

    run(work())


def test_a_reader_on_a_socket_is_found_and_its_tags_are_shown() -> None:
    said: list[Step] = []

    async def work() -> None:
        async with await TcpEnd.open() as end:
            task = asyncio.ensure_future(listen(end.url, 1.0, said.append))
            await end.met()
            for number in range(6):
                end.write(b"999 00000011223%d\r\n" % number)
            heard = await task
            assert heard.url == end.url
            assert heard.finding.kind is Kind.READER

    run(work())
    tags = [str(one.outcome.code) for one in said if isinstance(one, Frame) and isinstance(one.outcome, TagRead)]
    assert tags == [f"99900000011223{number}" for number in range(6)]
    assert not any(isinstance(one, Tried) for one in said)


def test_a_device_that_speaks_when_asked_is_asked(
    tmp_path: Path, receiver: list[Port], capsys: pytest.CaptureFixture[str]
) -> None:
    async def work() -> int:
        with PtyEnd(tmp_path / "port") as end:

            async def answer() -> None:
                for frame in frames():
                    await until(lambda: b"W\r\n" in end.read(), "a request")
                    end.write(frame)

            task = asyncio.ensure_future(answer())
            words = ["listen", f"serial:{end.path}", "--send", r"W\r\n", "--every", "0.02", "--seconds", "1", "--quiet"]
            code = await asyncio.to_thread(main, words)
            task.cancel()
            return code

    assert run(work()) == 0
    out = capsys.readouterr().out
    table = tomllib.loads(out[out.index("[links.scale]") :])["links"]["scale"]
    assert LinkTable.model_validate(table).poll == Poll(send=r"W\r\n", every_s=0.02)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--send", "W€"), "listen: send: '€' is no single byte"),
        (("--send", "W", "--every", "0"), "listen: every_s: must be at least 0.02, not 0.0"),
    ],
)
def test_what_cannot_be_sent_is_refused_before_a_port_is_opened(
    words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["listen", "tcp://127.0.0.1:9", *words]) == 2
    assert said in capsys.readouterr().err


def test_heard_enough_is_judged_by_what_came(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    async def interrupted(_: str, __: float, tell: Callable[[Step], None], ___: object) -> None:
        for frame in frames(100):
            tell(Chunk(0.0, frame))
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "listen", interrupted)
    with contextlib.suppress(KeyboardInterrupt):
        assert main(["listen", "tcp://127.0.0.1:1"]) == 0
    assert "[links.scale]" in capsys.readouterr().out


def test_a_weight_scale_service_needs_no_guessing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[Step] = []

    async def work() -> None:
        async with radio_bench(tmp_path, monkeypatch) as (bluez, _):
            end = BleEnd(bluez, "AA:BB:CC:DD:EE:01", "kitchen", WEIGHT)
            task = asyncio.ensure_future(listen("ble:AA:BB:CC:DD:EE:01", 1.0, said.append))
            await until(lambda: end.notifying, "somebody listens")
            end.packet(bytes.fromhex("001027"))
            heard = await task
            assert heard.finding.layout == "gatt-weight"
            assert "327.67" in heard.finding.doubts[0]

    run(work())
    (reading,) = [one.outcome for one in said if isinstance(one, Frame)]
    assert isinstance(reading, WeightReading)
    assert reading.kg == 50.0


def test_a_loss_in_the_midst_is_told_and_what_came_is_judged() -> None:
    said: list[Step] = []

    async def work() -> None:
        async with await TcpEnd.open() as end:
            task = asyncio.ensure_future(listen(end.url, 60.0, said.append))
            await end.met()
            for frame in list(frames(40)):
                end.write(frame)
            await until(lambda: sum(isinstance(one, Frame) for one in said) >= 39, "the frames")
            end.hang_up()
            heard = await task
            assert heard.finding.kind is Kind.SCALE

    run(work())
    assert isinstance(said[-1], Ended)


def test_what_cannot_be_opened_is_raised(tmp_path: Path) -> None:
    async def work(url: str) -> None:
        await listen(url, 0.1, lambda _: None)

    with pytest.raises(LinkTrouble, match="is not there"):
        run(work(f"serial:{tmp_path / 'absent'}"))
    with pytest.raises(ValueError, match="is no link"):
        run(work("fax:1"))


@pytest.mark.parametrize(
    "url",
    [
        "serial:/dev/serial/by-path/platform-soc-usb-0:1.2:1.0-port0?baud=9600&parity=even",
        "tcp://127.0.0.1:4001",
        "tcp://[::1]:4001",
        "rfc2217://host.local:4001?baud=4800",
        "ble:AA:BB:CC:DD:EE:01?notify=fff1",
    ],
)
def test_an_address_is_spelled_as_it_was_read(url: str) -> None:
    assert spell_address(parse_address(url)) == url
    assert parse_address(spell_address(with_options(parse_address(url)))) == parse_address(url)


def test_the_command_shows_what_comes_says_what_it_is_and_keeps_a_capture(
    tmp_path: Path, receiver: list[Port], capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "sample.jsonl"

    async def work() -> int:
        with PtyEnd(tmp_path / "port") as end:
            async with speaking(end, Port(9600), receiver):
                words = ["listen", f"serial:{end.path}", "--seconds", "1.5", "--bytes", "--save", str(file)]
                return await asyncio.to_thread(main, words)

    assert run(work()) == 0
    out = capsys.readouterr().out
    for part in ("9600 baud", "weight", "[links.scale]", "baud=9600"):
        assert part in out
    records = list(read_capture(file))
    assert len(records) > 10
    assert all(isinstance(record, Bytes) and record.link == "device" for record in records)
    assert main(["listen", f"serial:{tmp_path / 'absent'}"]) == 1
    assert main(["listen", "fax:1"]) == 2
    assert "is no link" in capsys.readouterr().err


def test_chunks_are_told_before_the_frames_in_them() -> None:
    said: list[Step] = []
    teller = listening._Teller(said.append)
    teller(b"x\r\nST,GS,+00412.5kg\r\nST")
    assert [type(one) for one in said[:2]] == [Chunk, Frame]
