"""The journal at full counts: power cuts, and what durability costs on this disk.

    python tests/bench/journal.py [power] [damage] [refused] [full] [cost]      all when none is named

- power: 1,000 cuts below SQLite at random moments of five recorded days (tests/support/power_day.py)
- damage: 1,000 times a card damages file, log or both of a killed journal at random (tests/support/corruptions.py)
- refused: each write is refused, as by a full, a read-only and a broken disk (tests/support/refusing.py), and stopped
- full: a disk of four megabytes in memory fills up and is cleared (needs a kernel that lets users mount their own)
- cost: one event at a time and many at once, beside a bare write and sync; opening and checking a large file
"""

import asyncio
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.reading import read_only
from tests.support.corruptions import Toll, check, left_by_a_kill
from tests.support.events import weighed
from tests.support.power_day import check_cut, day
from tests.support.refused_writes import check_refused
from tests.support.refusing import KINDS, refusing

ROOT = Path(__file__).parents[2]
CUTS = 1000
DAYS = 5
DAMAGES = 1000
EVENTS = 100_000


def power(_folder: Path) -> None:
    """Cut the power a thousand times; an assertion fails at the first cut that costs anything."""
    begin = time.perf_counter()
    for seed in range(DAYS):
        chance = random.Random(seed)
        tape, known = day(commits=200, seed=seed)
        for _ in range(CUTS // DAYS):
            check_cut(tape, known, chance.randrange(len(tape.operations)), chance)
    took_s = time.perf_counter() - begin
    print(f"power: {CUTS} cuts over {DAYS} days of 200 commits, nothing lost, nothing damaged ({took_s:.0f} s)")


def damage(_folder: Path) -> None:
    """Damage a journal a thousand times; an assertion fails where anything readable is lost, or lost unsaid."""
    begin = time.perf_counter()
    left, toll = left_by_a_kill(), Toll()
    for seed in range(DAMAGES):
        check(left, random.Random(seed), toll)
    print(
        f"damage: {DAMAGES} of a journal of {len(left.events)} events, {len(toll.of)} kinds: it started each time, gave"
        f" no damaged event, and said of each of the {toll.lost} lost ones that it is; none of those could be read "
        f"({time.perf_counter() - begin:.0f} s)"
    )


def refused(folder: Path) -> None:
    """Refuse each write in each way; an assertion fails where a weighing is lost, written twice, or kept unsaid."""
    for kind in KINDS:
        with pytest.MonkeyPatch.context() as patch, refusing(kind, patch) as system:
            patch.setattr("neckyoke.bridge.journal.writer.RETRY_S", (0.005,))
            for n in range(1000):
                (folder / kind / str(n)).mkdir(parents=True)
                if check_refused(system, folder / kind / str(n), n):
                    break
        print(
            f"refused: {kind} after 0 to {n - 1} writes: nothing lost, nothing twice, each time said and kept elsewhere"
        )


def full(folder: Path) -> None:
    """Fill a real, small disk."""
    script = f"mount -t tmpfs -o size=4m tmpfs {folder} && exec {sys.executable} -m tests.support.full_disk {folder}"
    subprocess.run(["unshare", "--map-root-user", "--mount", "sh", "-c", script], check=True, cwd=ROOT)


def _milliseconds(begin: float) -> float:
    return (time.perf_counter() - begin) * 1000


async def _one_at_a_time(journal: Journal) -> list[float]:
    taken = []
    for number in range(500):
        begin = time.perf_counter()
        await journal.append([weighed(number)])
        taken.append(_milliseconds(begin))
    return taken


async def _cost(folder: Path) -> None:
    line = weighed(1).to_json().encode()
    bare = []
    with (folder / "bare").open("ab", buffering=0) as file:
        for _ in range(500):
            begin = time.perf_counter()
            file.write(line)
            os.fdatasync(file)
            bare.append(_milliseconds(begin))
    journal = await Journal.open(folder / "journal.db", outlets=["farm"])
    single = await _one_at_a_time(journal)
    begin = time.perf_counter()
    await asyncio.gather(*(journal.submit([weighed(number)]) for number in range(500, EVENTS)))
    rate = (EVENTS - 500) / (time.perf_counter() - begin)
    await journal.close()
    size = (folder / "journal.db").stat().st_size
    begin = time.perf_counter()
    journal = await Journal.open(folder / "journal.db", outlets=["farm"])
    opened = _milliseconds(begin)
    await journal.close()
    with read_only(folder / "journal.db") as reading:
        begin = time.perf_counter()
        reading.weighings(tag="999000000000777")
        by_tag = _milliseconds(begin)
    print(
        f"cost: one event at a time p50 {statistics.median(single):.2f} ms, most {max(single):.1f} ms "
        f"(a bare write and sync {statistics.median(bare):.2f} ms, most {max(bare):.1f} ms); at once {rate:.0f}/s; "
        f"{EVENTS} weighings are {size / 1e6:.0f} MB, opened and checked in {opened:.0f} ms; "
        f"one animal's history {by_tag:.1f} ms"
    )


def cost(folder: Path) -> None:
    """Measure."""
    asyncio.run(_cost(folder))


def main() -> None:
    """Run what is named."""
    parts = {"power": power, "damage": damage, "refused": refused, "full": full, "cost": cost}
    for name in sys.argv[1:] or parts:
        with tempfile.TemporaryDirectory() as folder:
            parts[name](Path(folder))


if __name__ == "__main__":
    main()
