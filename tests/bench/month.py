"""A month in the shed in minutes: 20,000 animals through the real service, everything pulled out every hour.

    python tests/bench/month.py [--animals 20000] [--hours 720]

The service runs in this process on real ptys, a real journal, an events file and a real mosquitto; only its clock is
ours.  Each simulated hour a mob goes through in lock step (the clock moves, a frame is written, the bytes are seen to
arrive), during which the broker is stopped and the reader pulled out for a while; then both devices are unplugged and
plugged in again, and the clock leaps to the next hour.  Each day a new job sheet is told.  Mobs are drawn in a process
of their own, so that memory counted here is the daemon's.

Held to: one weighing an animal in the journal, in the file and at the broker's subscriber; memory at the end within
10 % of that after the first day; the same descriptors.  Waits between attempts are shortened as the clock is.
"""

import argparse
import asyncio
import contextlib
import json
import random
import re
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.links import phases, supervise
from neckyoke.bridge.outlets.follow import Backoff
from neckyoke.bridge.telling import log
from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.support.broker import Broker, Recorder
from tests.support.daemon import latest

CONFIG = """\
site = "larkmoor"
[links.indicator]
url = "serial:{folder}/indicator?baud=9600"
[links.panel]
url = "serial:{folder}/panel?baud=9600"
[stations.crush]
scale = "indicator"
readers = [{{ link = "panel", position = "platform" }}]
capacity_kg = 1500
[outlets.events]
file = "events.jsonl"
[outlets.farm]
mqtt = "{broker}"
keepalive_s = 5
[capture]
folder = "captures"
part_mb = 1
parts = 3
"""
SHEET = 'title = "day {day}"\nmob = "dairy-beef steers"\n'
HOUR_S, DAY_H = 3600.0, 24
START = 1_795_000_000.0
"""Wall time of the month's beginning: late in 2026."""

Items = list[tuple[float, str, bytes]]


def draw(seed: int, animals: int) -> tuple[Items, int]:
    """Draw a mob: what its devices send, and how many stays that was."""
    yard = Yard.named("larkmoor", seed=seed, animals=animals)
    return list(yard.items()), len(yard.truth)


class Mobs:
    """Mobs drawn ahead, one by one, in another process."""

    def __init__(self, hours: int, animals: int) -> None:
        self._pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"))
        self._sizes = [animals * (hour + 1) // hours - animals * hour // hours for hour in range(hours)]

    def __iter__(self) -> Iterator[tuple[Items, int]]:
        """Yield the hours' mobs, the next one being drawn meanwhile."""
        coming = self._pool.submit(draw, 1000, self._sizes[0])
        for hour in range(1, len(self._sizes) + 1):
            mob = coming.result()
            if hour < len(self._sizes):
                coming = self._pool.submit(draw, 1000 + hour, self._sizes[hour])
            yield mob
        self._pool.shutdown()


@dataclass
class Figures:
    """What the process holds at one moment."""

    rss_mib: float
    private_mib: float
    descriptors: list[str]
    written_mib: float

    @classmethod
    def now(cls) -> "Figures":
        """Read them from the kernel."""
        text = Path("/proc/self/smaps_rollup").read_text()
        size = {name: int(kib) / 1024 for name, kib in re.findall(r"^(\w+): +(\d+) kB$", text, re.MULTILINE)}
        written = int(re.findall(r"write_bytes: (\d+)", Path("/proc/self/io").read_text())[0])
        return cls(size["Rss"], size["Private_Dirty"], sorted(_held()), written / 2**20)


def _held() -> Iterator[str]:
    for link in Path("/proc/self/fd").iterdir():
        with contextlib.suppress(FileNotFoundError):
            name = str(link.readlink())
            if "/proc/" not in name:  # the listing itself
                yield re.sub(r"\d+", "N", name)


class Month:
    """The daemon, its wires and the time it is."""

    def __init__(self, folder: Path, broker: Broker) -> None:
        self.t = 0.0
        self.broker = broker
        self.recorder = broker.record("#", "-c", "-x", "4000000")
        self.ends = {name: PtyEnd(folder / name) for name in ("indicator", "panel")}
        self.sent = dict.fromkeys(self.ends, 0)
        config = folder / "neckyoke.toml"
        config.write_text(CONFIG.format(folder=folder, broker=broker.url))
        self.folder = folder
        self.config = load_config(config)
        self.clock = WallClock(lambda: self.t, lambda: START + self.t, probe=lambda: True)
        self.service: Service

    async def until(self, condition: Callable[[], bool], what: str, deadline_s: float = 60.0) -> None:
        """Wait for something, giving the daemon the time."""
        end = time.monotonic() + deadline_s
        while not condition():
            await asyncio.sleep(0.005)
            if time.monotonic() > end:
                raise TimeoutError(f"not within {deadline_s} s: {what}; {json.dumps(self.service.status(), indent=1)}")

    async def send(self, link: str, data: bytes) -> None:
        """Write to a device and see the bytes arrive."""
        counters = self.service.supervisors[link].counters
        want = counters.bytes + len(data)
        self.ends[link].write(data)
        spins = 0
        while counters.bytes < want:
            await asyncio.sleep(0)
            spins += 1
            if spins > 200_000:
                raise TimeoutError(f"{link} does not take its bytes")

    def state(self, link: str) -> str | None:
        """Return what the daemon says of a link."""
        return self.service.supervisors[link].state

    async def pull(self, *links: str) -> None:
        """Unplug devices; the daemon notices."""
        for link in links:
            self.ends[link].unplug()
        await self.until(lambda: all(self.state(link) in phases.AWAY for link in links), "the loss noticed")

    async def plug(self, *links: str) -> None:
        """Plug devices in again; the daemon opens them."""
        for link in links:
            self.ends[link].plug()
        for link in links:
            supervisor = self.service.supervisors[link]
            await self.until(lambda one=supervisor: one._link is not None, f"{link} open")  # type: ignore[misc]
            await self.send(link, b"\r\n")
        await self.until(lambda: all(self.state(link) == "up" for link in links), "both up")

    async def hour(self, number: int, items: Items) -> None:
        """Let one mob through, with the broker away and the reader pulled out for a while."""
        start = max(self.t, number * HOUR_S)
        chance = random.Random(number)
        end_t = items[-1][0]
        away, pulled = end_t * chance.uniform(0.1, 0.5), end_t * chance.uniform(0.1, 0.9)
        for t, link, data in items:
            self.t = start + t
            if t >= away:
                self.broker.stop(signal.SIGTERM)
                away = float("inf")
            if pulled <= t:
                if pulled + 5.0 > t:
                    if self.ends["panel"]._master is not None:
                        await self.pull("panel")
                else:
                    await self.plug("panel")
                    pulled = float("inf")
            if link == "indicator" or self.ends[link]._master is not None:
                await self.send(link, data)
        self.t += 60.0
        if self.ends["panel"]._master is None:
            await self.plug("panel")
        await self.pull("indicator", "panel")
        await self.plug("indicator", "panel")
        self.broker.start()


def settle(month: Month) -> None:
    """Shorten the waits between attempts as the clock is shortened."""
    supervise.FIRST_WAIT_S = supervise.GLANCE_S = supervise.SETTLE_S = 0.01
    supervise.LONGEST_WAIT_S = 0.05
    month.service.outlets["farm"].taker.steady_s = 0.05
    month.service.outlets["farm"]._backoff = Backoff(0.02, 0.2, random.random)


async def run(hours: int, animals: int, folder: Path, broker: Broker) -> bool:
    """Run the month and say how it went."""
    month = Month(folder, broker)
    service = month.service = await build(month.config, month.clock)
    stop, ready = asyncio.Event(), asyncio.Event()
    serving = asyncio.create_task(service.run(stop, ready.set))
    await ready.wait()
    settle(month)
    await month.plug("indicator", "panel")
    stays, first, last, began = 0, None, None, time.monotonic()
    for hour, (items, count) in enumerate(Mobs(hours, animals)):
        if hour % DAY_H == 0:
            (folder / "sheet.toml").write_text(SHEET.format(day=hour // DAY_H + 1))
            answer = await service.desk.ask({"kind": "sheet", "station": "crush", "file": "sheet.toml"})
            assert answer["done"], answer
        await month.hour(hour, items)
        stays += count
        if (hour + 1) % DAY_H == 0 or hour + 1 == hours:
            await month.until(lambda: service.outlets["farm"].health().backlog == 0, "the broker caught up")
            await month.until(lambda: service.outlets["events"].health().backlog == 0, "the file caught up")
            figures = Figures.now()
            first, last = first or figures, figures
            print(
                f"day {(hour + 1) / DAY_H:4.1f}: {stays:6} animals, RSS {figures.rss_mib:.1f} MiB"
                f" (private {figures.private_mib:.1f}), {len(figures.descriptors)} descriptors,"
                f" {figures.written_mib:.0f} MiB written, {time.monotonic() - began:.0f} s",
                flush=True,
            )
    assert first is not None
    assert last is not None
    stop.set()
    await serving
    return judge(month, stays, first, last)


def received(recorder: Recorder) -> set[str]:
    """Return the ids of the weighing events that the subscriber has."""
    return {json.loads(message.payload)["id"] for message in recorder.on("/weighing")}


def judge(month: Month, stays: int, first: Figures, last: Figures) -> bool:
    """Compare what was and what should be."""
    parts = sorted(month.folder.glob("events*.jsonl"))  # the file is rotated when it is large
    events = [json.loads(line) for part in parts for line in part.read_text().splitlines()]
    weighings = latest(events)
    revisions = {event["id"] for event in events if event["type"] == "neckyoke.weighing"}
    at_broker = received(month.recorder)
    end = time.monotonic() + 60
    while revisions - at_broker and time.monotonic() < end:
        time.sleep(1)
        at_broker = received(month.recorder)
    tagged = sum(data["tag"] is not None for data in weighings.values())
    print(f"{stays} animals stood there; {len(weighings)} weighings, {tagged} with a tag; {len(events)} events")
    print(f"in the file twice: {len(events) - len({event['id'] for event in events})}")
    print(f"weighing events in the file and not at the subscriber: {len(revisions - at_broker)}")
    growth = last.rss_mib / first.rss_mib
    print(f"RSS: {first.rss_mib:.1f} MiB after the first day, {last.rss_mib:.1f} MiB at the end: x {growth:.3f}")
    print(f"written to the card per 1,000 animals: {last.written_mib / stays * 1000:.1f} MiB")
    same = first.descriptors == last.descriptors
    print("descriptors: " + ("equal" if same else f"{first.descriptors} became {last.descriptors}"))
    return len(weighings) == stays and not revisions - at_broker and growth <= 1.1 and same


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser(description="A simulated month.")
    parser.add_argument("--animals", type=int, default=20_000)
    parser.add_argument("--hours", type=int, default=720)
    parser.add_argument("--folder", type=Path)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = args.folder or Path(made)
        sys.stderr = (folder / "daemon.log").open("w")
        log.configure()
        stored = ["persistence true", f"persistence_location {folder}/"]
        # without end, since the subscriber is away for long at times: mosquitto's own limit is 1,000 messages
        broker = Broker(folder, ["allow_anonymous true", "max_queued_messages 0", *stored]).start()
        try:
            good = asyncio.run(run(args.hours, args.animals, folder, broker))
        finally:
            sys.stderr = sys.__stderr__
            broker.close()
    print("held" if good else "NOT HELD")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
