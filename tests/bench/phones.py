"""What fifty phones cost the box: `python tests/bench/phones.py [--phones 50] [--seconds 10]`.

The daemon's own parts in one process (journal on disk, hub, page), the phones in another.  Two kinds of phases take
turns, without phones and with them; in both a platform is shown five times a second and a weighing is written five
times a second, far more than in any yard.  A weighing's way is timed from the moment its bytes were due to the moment
it was safe on disk: if the loop or the journal was busy with phones, that shows here.
"""

import argparse
import asyncio
import json
import os
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.events import Clock, Tag, Weighing, Weight, make_id, wrap
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.telling.fanout import Hub, Live
from neckyoke.bridge.telling.status import Status
from tests.support.status import status_of, view_of

PER_S = 5
"""Live views, and weighings, a second."""


@dataclass
class Phase:
    """What was measured of one kind: processor seconds, wall seconds, and each weighing's way in milliseconds."""

    cpu_s: float = 0.0
    wall_s: float = 0.0
    ways_ms: list[float] = field(default_factory=list)

    @property
    def percent(self) -> float:
        """Share of one core."""
        return 100 * self.cpu_s / self.wall_s

    def way_ms(self, percent: int) -> float:
        """Return a percentile of the ways."""
        return statistics.quantiles(self.ways_ms, n=100)[percent - 1]


def rss_mib() -> float:
    """Return the memory of this process that is in RAM."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 2**20


def weighing(number: int) -> Weighing:
    """Make a weighing."""
    now = datetime.now(UTC)
    return Weighing(
        weighing=make_id("bench", number), station="crush", number=number, on=now, settled=now, off=now,
        tag=Tag(id=f"999{number:012d}", code="999", national=f"{number:012d}", animal=True),
        weight=Weight(kg=318.5, grade="good"), clock=Clock.SYNCHRONISED,
    )  # fmt: skip


class Box:
    """The daemon's parts that phones touch."""

    def __init__(self, folder: Path) -> None:
        self.hub = Hub()
        self._folder = folder
        self._number = 0
        self.journal: Journal

    async def begin(self) -> None:
        """Open the journal."""
        self.journal = await Journal.open(self._folder / "bench.db")

    async def ask(self, _: dict[str, Any]) -> dict[str, Any]:
        """Do nothing."""
        return {"done": True, "text": ""}

    def status(self) -> Status:
        """Say that all is well."""
        return status_of(stations={"crush": {"counts": {"animals": 1}}})

    async def work(self, seconds: float, phase: Phase) -> None:
        """Show and write for some seconds, and measure."""
        loop = asyncio.get_running_loop()
        cpu, began = time.process_time(), loop.time()
        writing = []
        for tick in range(int(seconds * PER_S)):
            due = began + tick / PER_S
            await asyncio.sleep(max(0.0, due - loop.time()))
            writing.append(asyncio.create_task(self._write(due, phase)))
            await asyncio.sleep(max(0.0, due + 0.37 / PER_S - loop.time()))
            view = view_of("crush", "standing", 318.5 + tick % 7, number=self._number)
            self.hub.put(Live("crush", view))
        await asyncio.gather(*writing)
        phase.cpu_s += time.process_time() - cpu
        phase.wall_s += loop.time() - began

    async def _write(self, due: float, phase: Phase) -> None:
        self._number += 1
        event = wrap(weighing(self._number), site="larkmoor", time=datetime.now(UTC), key=str(self._number))
        written = await self.journal.append([event])
        phase.ways_ms.append(1000 * (asyncio.get_running_loop().time() - due))
        for one in written:
            self.hub.put(one)


async def until(condition: Callable[[], bool]) -> None:
    """Wait for a condition."""
    while not condition():  # noqa: ASYNC110 -- a bench may poll
        await asyncio.sleep(0.05)


async def measure(phones: int, seconds: float, rounds: int) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory(prefix="neckyoke-bench-") as folder:
        box = Box(Path(folder))
        await box.begin()
        before = rss_mib()
        from neckyoke.bridge.page.app import Page

        page = Page(
            "127.0.0.1:0", hub=box.hub, journal=box.journal, ask=box.ask, status=box.status,
            code_file=Path(folder) / "code",
        )  # fmt: skip
        port = await page.start()
        started = rss_mib()
        without, with_phones = Phase(), Phase()
        await box.work(1.0, Phase())
        most = 0.0
        for _ in range(rounds):
            await box.work(seconds, without)
            crowd = await asyncio.create_subprocess_exec(
                sys.executable,
                __file__,
                "--be-phones",
                str(port),
                "--phones",
                str(phones),
                stdout=asyncio.subprocess.PIPE,
            )
            await until(lambda: page.phones == phones)
            await box.work(seconds, with_phones)
            most = max(most, rss_mib())
            crowd.terminate()
            told, _ = await crowd.communicate()
            print(f"  a round: {told.decode().strip()}")
            await until(lambda: page.phones == 0)
        began = time.monotonic()
        await page.stop()
        stopped = time.monotonic() - began
        await box.journal.close()
    cost = with_phones.percent - without.percent
    print(f"{phones} phones: {cost:.1f} % of one core ({with_phones.percent:.1f} with, {without.percent:.1f} without)")
    print(f"memory: page {started - before:.1f} MiB, with {phones} phones {most - before:.1f} MiB")
    for percent in (50, 99):
        a, b = without.way_ms(percent), with_phones.way_ms(percent)
        print(f"a weighing's way to disk, {percent} %: {a:.2f} ms without, {b:.2f} ms with, ratio {b / a:.2f}")
    print(f"stopping took {stopped:.2f} s")


async def be_phones(port: int, count: int) -> None:
    """Be so many phones, reading their streams until told to stop; say what each got."""
    got = [0] * count
    missed = 0

    async def phone(which: int) -> None:
        nonlocal missed
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(b"GET /now HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        head = await reader.readuntil(b"\r\n\r\n")
        length = int(head.lower().split(b"content-length: ")[1].split(b"\r\n")[0])
        after = json.loads(await reader.readexactly(length))["sequence"]
        writer.write(f"GET /events?after={after} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
        last = 0
        with suppress(ConnectionError):
            async for line in reader:
                if line.startswith(b"id: "):
                    missed += last != 0 and int(line[4:]) != last + 1
                    last = int(line[4:])
                    got[which] += 1

    loop = asyncio.get_running_loop()
    everyone = asyncio.gather(*(phone(which) for which in range(count)))
    loop.add_signal_handler(15, everyone.cancel)
    with suppress(asyncio.CancelledError):
        await everyone
    print(json.dumps({"events to each, least": min(got), "most": max(got), "gaps": missed}))


def main() -> None:
    """Run one of the two."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--phones", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--be-phones", type=int, metavar="PORT", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.be_phones:
        asyncio.run(be_phones(args.be_phones, args.phones))
    else:
        print(f"{os.cpu_count()} cores, Python {sys.version.split()[0]}")
        asyncio.run(measure(args.phones, args.seconds, args.rounds))


if __name__ == "__main__":
    main()
