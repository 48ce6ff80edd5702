"""A day's backlog into every kind of far side: the peak of memory and the rate, of few events and of many.

    python tests/bench/backlogs.py [FEW MANY]

Each is drained by a process of its own that does nothing else; its peak is VmHWM of /proc (what a process had at most
since it began).  Memory is flat when the peak does not grow with the backlog: the ratio is told beside a bare start.
"""

import asyncio
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.journal.journal import Journal
from tests.support.events import weighed
from tests.support.far_side import ROOT, follower
from tests.support.far_sides import KINDS
from tests.support.running import until

FEW, MANY = 1_000, 20_000


def peak_mib() -> float:
    """Return the most memory that this process has had."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM"))


async def fill(folder: Path, count: int) -> None:
    """Write so many weighings into a journal."""
    journal = await Journal.open(folder / "journal.db", outlets=["far"])
    for first in range(1, count + 1, 500):
        await journal.append([weighed(number) for number in range(first, min(first + 500, count + 1))])
    await journal.close()


async def drain(folder: Path, table: OutletTable) -> None:
    """Give all of it to the far side, and say how fast and with how much memory."""
    journal = await Journal.open(folder / "journal.db", outlets=["far"])
    outlet = follower(table, folder, journal)
    begin = time.perf_counter()
    running = asyncio.create_task(outlet.run())
    await until(lambda: outlet.health().backlog == 0, "everything is taken", 1800.0)
    rate = journal.last / (time.perf_counter() - begin)
    await outlet.stop(10.0)
    await running
    await journal.close()
    print(json.dumps([peak_mib(), rate]))


def measured(kind: type, count: int) -> tuple[float, float]:
    """Drain a backlog of so many: the peak in MiB, and events a second."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        far = kind(folder)
        try:
            far.start()
            asyncio.run(fill(folder, count))
            command = [sys.executable, __file__, "drain", str(folder), json.dumps(far.table)]
            said = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True, timeout=1800)
            assert len({number for number, _ in far.held()}) == count, "nothing lost"
        finally:
            far.close()
    peak, rate = json.loads(said.stdout)
    return peak, rate


def main(few: int, many: int) -> None:
    """Measure every kind."""
    print(f"{'':12} {few:>8} events {many:>8} events   ratio   grown by   events a second")
    for kind in KINDS:
        small, large = measured(kind, few), measured(kind, many)
        ratio, grown = large[0] / small[0], large[0] - small[0]
        peaks = f"{small[0]:8.1f} MiB    {large[0]:8.1f} MiB   {ratio:6.3f} {grown:+7.1f} MiB"
        print(f"{kind.__name__:12} {peaks} {large[1]:9.0f}", flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["drain"]:
        asyncio.run(drain(Path(sys.argv[2]), OutletTable.model_validate(json.loads(sys.argv[3]))))
    else:
        main(*(map(int, sys.argv[1:]) if len(sys.argv) == 3 else (FEW, MANY)))
