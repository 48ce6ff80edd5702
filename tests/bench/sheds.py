"""Many sheds at one broker and one database: what is lost, whether order is kept, how late, how much and how large.

    python tests/bench/sheds.py [--sheds 100 1000 10000] [--real 3] [--animals 5]

Most sites are simulated (tests/bench/sites.py), a few are the daemon's own journal and MQTT outlet.  All publish into
one real mosquitto, from which one recorder (tests/bench/recording.py) writes into one real PostgreSQL.  Half-way the
broker is stopped and started again, which all meet at once.
"""

import argparse
import asyncio
import contextlib
import json
import resource
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.bench.sites import Site
from tests.support.broker import Broker, wait_until
from tests.support.far_servers import Postgres
from tests.support.shed import shed

ROOT = Path(__file__).parents[2]
DEADLINE_S = 900.0


async def until(condition: Any, what: str) -> None:
    """Wait for something."""
    end = time.monotonic() + DEADLINE_S
    while not condition():
        if time.monotonic() > end:
            raise TimeoutError(f"not within {DEADLINE_S} s: {what}")
        await asyncio.sleep(0.2)


async def publish(folder: Path, broker: Broker, sheds: int, real: int, animals: int) -> dict[str, float]:
    """Let every site weigh its mob; give what it took and what was sent again."""
    sites = [Site(n, broker.port) for n in range(sheds - real)]
    pause_s = max(1.0, sheds / 1000)  # an animal a second in a thousand sheds: far above what a day brings
    async with contextlib.AsyncExitStack() as stack:
        whole = [
            await stack.enter_async_context(shed(folder / f"real-{n}", broker.url, f"real-{n}")) for n in range(real)
        ]
        began = time.monotonic()
        running = asyncio.gather(*(site.publish(animals, pause_s) for site in sites))
        await asyncio.gather(*(one.weigh(range(1, animals + 1)) for one in whole))
        total = len(sites) * animals
        await until(lambda: sum(site.sent for site in sites) >= total / 2, "half of it")
        await asyncio.to_thread(broker.stop, signal.SIGTERM)
        await asyncio.to_thread(broker.start)
        await running
        await until(lambda: all(one.delivered() for one in whole), "the real ones")
        return {"took_s": time.monotonic() - began, "again": sum(site.again for site in sites)}


def mb_of(pid: int) -> float:
    """Return the resident memory of a process."""
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * 4096 / 1e6


def measure(sheds: int, real: int, animals: int) -> bool:
    """Measure one number of sheds and print a row."""
    with tempfile.TemporaryDirectory() as made, contextlib.ExitStack() as stack:
        folder = Path(made)
        folder.chmod(0o755)
        lines = ["allow_anonymous true", "persistence true", f"persistence_location {made}/", "max_connections -1"]
        broker = Broker(folder, [*lines, "max_queued_messages 1000000", "max_inflight_messages 500"])
        stack.callback(broker.close)
        broker.start()
        database = Postgres(folder)
        stack.callback(database.close)
        database.start()
        command = [sys.executable, "-m", "tests.bench.recording"]
        command += [str(broker.port), str(database.port), database.password]
        recorder = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT)
        stack.callback(recorder.kill)
        assert recorder.stdin is not None
        assert recorder.stdout is not None
        recorder.stdout.readline()
        sent = asyncio.run(publish(folder, broker, sheds, real, animals))
        want = sheds * animals
        wait_until(lambda: database.rows("select count(*) from weighing")[0][0] >= want, "all recorded", DEADLINE_S)
        recorder.stdin.write("\n")
        recorder.stdin.flush()
        told = json.loads(recorder.stdout.readline())
        assert broker._process is not None
        held = database.rows("select count(*), count(distinct site) from weighing")[0]
        rate = told["count"] / told["took_s"]
        recorded = f"{held[0]} of {want} recorded, {want - held[0]} lost"
        print(
            f"{sheds:6} sheds  {recorded}, {told['out_of_order']} out of order but for repeats, "
            f"sent again {sent['again']:.0f}, twice at the recorder {told['count'] - want}; {rate:.0f} a second, "
            f"lag median {told['lag_median_s']:.2f} s, 99 % {told['lag_99_s']:.2f} s; "
            f"broker {mb_of(broker._process.pid):.0f} MB, recorder {told['mb']:.0f} MB",
            flush=True,
        )
        return bool(held == (want, sheds)) and not told["out_of_order"]


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser(description="Many sheds at one broker and one database.")
    parser.add_argument("--sheds", type=int, nargs="+", default=[100, 1000, 10000])
    parser.add_argument("--real", type=int, default=3)
    parser.add_argument("--animals", type=int, default=5)
    args = parser.parse_args()
    hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))
    good = [measure(sheds, args.real, args.animals) for sheds in args.sheds]
    print("held" if all(good) else "NOT HELD")
    return 0 if all(good) else 1


if __name__ == "__main__":
    sys.exit(main())
