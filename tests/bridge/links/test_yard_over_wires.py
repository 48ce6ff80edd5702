"""One yard over ptys, over Bluetooth LE and over RFCOMM: the same weighings, to the last character.

Each item is sent over a real link and taken with the time it has in the yard, so that the only difference left is what
the wires do to the bytes: where they cut them.  One run of the daemon over Bluetooth shows that it is wired up so.
"""

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from neckyoke.bridge.capture.format import Bytes, Header, LinkChange, Record, spell_header, spell_record
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.commands.replay import replay
from neckyoke.bridge.config.model import load_config
from neckyoke.simulators.bluetooth.bluez import BlueZ
from neckyoke.simulators.bluetooth.ends import BleEnd, RfcommEnd
from neckyoke.simulators.wires.ends import End, PtyEnd
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG, Daemon
from tests.support.running import run, until
from tests.support.wires import Listener, radio_bench

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
SCALE, PANEL = "AA:BB:CC:DD:EE:01", "AA:BB:CC:DD:EE:02"
SPEED = 8.0


@contextlib.asynccontextmanager
async def two_ends(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> AsyncIterator[dict[str, tuple[End, str]]]:
    """The indicator's and the panel's ends, with their URLs."""
    if kind == "pty":
        with PtyEnd(tmp_path / "scale") as scale, PtyEnd(tmp_path / "reader") as reader:
            yield {"indicator": (scale, f"serial:{scale.path}"), "panel": (reader, f"serial:{reader.path}")}
        return
    async with radio_bench(tmp_path, monkeypatch) as (bluez, _):
        make = BleEnd if kind == "ble" else RfcommEnd
        yield {
            "indicator": (make(bluez, SCALE, "scale"), f"{kind}:{SCALE}"),
            "panel": (make(bluez, PANEL, "panel"), f"{kind}:{PANEL}"),
        }


class Taker(Listener):
    """A listener that keeps what comes in its pieces."""

    def __init__(self, url: str) -> None:
        super().__init__(url)
        self.pieces: list[bytes] = []
        self.came = asyncio.Event()
        self.link._on_bytes = self._take

    def _take(self, data: bytes) -> None:
        self.pieces.append(data)
        self.came.set()

    async def take(self, size: int) -> list[bytes]:
        """Wait for so many bytes and return them, in the pieces in which they came."""
        while sum(map(len, self.pieces)) < size:
            self.came.clear()
            await self.came.wait()
        pieces, self.pieces = self.pieces, []
        assert sum(map(len, pieces)) == size
        return pieces


async def over(kind: str, yard: Yard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Record]:
    """Send a yard over a pair of wires; return what came as records."""
    records: list[Record] = [LinkChange(0.0, name, "up") for name in ("indicator", "panel")]
    async with two_ends(kind, tmp_path, monkeypatch) as ends:
        takers = {name: Taker(url) for name, (_, url) in ends.items()}
        for taker in takers.values():
            await taker.link.open()
        for t, name, data in yard.items():
            ends[name][0].write(data)
            records += [Bytes(t, name, piece) for piece in await takers[name].take(len(data))]
        for taker in takers.values():
            await taker.link.close()
    return records


def events(records: list[Record], tmp_path: Path) -> list[str]:
    """Return the events that the records make."""
    (tmp_path / "neckyoke.toml").write_text(CONFIG.format(indicator="serial:/dev/scale", panel="serial:/dev/panel"))
    file = tmp_path / "capture.jsonl"
    lines = [spell_header(Header(STARTED, "larkmoor")), *map(spell_record, records)]
    file.write_text("".join(json.dumps(line) + "\n" for line in lines))
    return [event.to_json() for event in replay(read_capture(file), load_config(tmp_path / "neckyoke.toml"))]


def test_the_same_weighings_over_ptys_ble_and_rfcomm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    yard = Yard.named("larkmoor", seed=3, animals=20)
    made = {}
    for kind in ("pty", "ble", "rfcomm"):
        folder = tmp_path / kind
        folder.mkdir()
        records = run(over(kind, yard, folder, monkeypatch))
        made[kind] = events(records, folder)
        if kind == "ble":  # which cuts at 20 bytes, so that frames are put together again
            assert max(len(record.data) for record in records if isinstance(record, Bytes)) <= 20
    weighings = [event for event in map(json.loads, made["pty"]) if event["type"] == "neckyoke.weighing"]
    assert len({event["data"]["weighing"] for event in weighings}) == len(yard.truth)
    assert made["ble"] == made["pty"]
    assert made["rfcomm"] == made["pty"]


def test_the_daemon_weighs_over_bluetooth(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    yard = Yard.named("calm", seed=4, animals=3)

    def all_up(daemon: Daemon) -> bool:
        return {event["data"]["link"] for event in daemon.events() if event["type"] == "neckyoke.link"} == {
            "indicator",
            "panel",
        }

    async def work() -> list[dict[str, object]]:
        async with radio_bench(tmp_path, monkeypatch) as (bluez, _):
            assert isinstance(bluez, BlueZ)
            scale, panel = BleEnd(bluez, SCALE, "scale"), RfcommEnd(bluez, PANEL, "panel")
            daemon = Daemon(tmp_path, CONFIG.format(indicator=f"ble:{SCALE}", panel=f"rfcomm:{PANEL}"), SPEED)
            try:
                await asyncio.to_thread(daemon.start)
                await until(lambda: scale.notifying and panel.connected, "both links up")
                await until(lambda: all_up(daemon), "both told")
                await daemon.clock.play(yard.items(), {"indicator": scale, "panel": panel})
                await until(lambda: len(daemon.weighings()) == len(yard.truth), "a weighing an animal")
                assert await asyncio.to_thread(daemon.stop) == 0
                await until(lambda: not scale.notifying and not panel.connected, "both let go")
                return sorted(daemon.weighings().values(), key=lambda data: int(data["number"]))
            finally:
                daemon.close()

    weighings = run(work(), deadline_s=600.0)
    for stay, data in zip(yard.truth, weighings, strict=True):
        assert data["tag"]["id"] == stay.tag  # type: ignore[index]
        assert data["weight"]["kg"] == pytest.approx(stay.kg, rel=0.02)  # type: ignore[index]
