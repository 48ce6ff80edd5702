"""A hundred sheds at one broker: everything arrives, once by id, in order within each shed.

    python tests/bench/sheds.py [--sheds 100] [--animals 50]

Each shed is the daemon's own journal and MQTT outlet with a site of its own; all run in this process.  Half-way the
broker is stopped and started again, which all of them meet at once.  The subscriber is mosquitto_sub.
"""

import argparse
import asyncio
import contextlib
import signal
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.support.broker import Broker, Recorder
from tests.support.shed import Shed, shed

DEADLINE_S = 300.0


async def run(folder: Path, broker: Broker, recorder: Recorder, count: int, animals: int) -> bool:
    """Let every shed weigh its mob and say how it went."""
    began = time.monotonic()
    async with contextlib.AsyncExitStack() as stack:
        sheds = [
            await stack.enter_async_context(shed(folder / f"shed-{n}", broker.url, f"shed-{n}")) for n in range(count)
        ]
        half = animals // 2
        await asyncio.gather(*(one.weigh(range(1, half + 1)) for one in sheds))
        await until(lambda: any(one.delivered() for one in sheds), "the first shed through")
        broker.stop(signal.SIGTERM)
        await asyncio.gather(*(one.weigh(range(half + 1, animals + 1)) for one in sheds))
        broker.start()
        await until(lambda: all(one.delivered() for one in sheds), "every shed through")
        print(f"{count} sheds, {animals} weighings each: all acknowledged after {time.monotonic() - began:.1f} s")
        return await judge(sheds, recorder, animals)


async def until(condition: Callable[[], bool], what: str) -> None:
    """Wait for something."""
    end = time.monotonic() + DEADLINE_S
    while not condition():
        if time.monotonic() > end:
            raise TimeoutError(f"not within {DEADLINE_S} s: {what}")
        await asyncio.sleep(0.05)


async def judge(sheds: list[Shed], recorder: Recorder, animals: int) -> bool:
    """Compare what arrived with what was written."""
    want = len(sheds) * animals
    await until(lambda: len({one.event["id"] for one in recorder.messages()}) >= want, "all at the subscriber")
    by_site: dict[str, list[int]] = defaultdict(list)
    seen: set[str] = set()
    messages = recorder.messages()
    for event in (one.event for one in messages):
        if event["id"] not in seen:
            seen.add(event["id"])
            by_site[event["source"]].append(event["data"]["number"])
    in_order = all(numbers == list(range(1, animals + 1)) for numbers in by_site.values())
    print(f"at the subscriber: {len(seen)} of {want}, {len(messages) - len(seen)} repeats, {len(by_site)} sheds")
    print("order within each shed: " + ("kept" if in_order else "NOT KEPT"))
    return in_order and len(seen) == want and len(by_site) == len(sheds)


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser(description="Many sheds at one broker.")
    parser.add_argument("--sheds", type=int, default=100)
    parser.add_argument("--animals", type=int, default=50)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        lines = ["allow_anonymous true", "persistence true", f"persistence_location {made}/"]
        broker = Broker(folder, [*lines, "max_queued_messages 100000"]).start()
        recorder = broker.record("neckyoke/+/+/weighing", "-c", "-x", "100000")
        try:
            good = asyncio.run(run(folder, broker, recorder, args.sheds, args.animals))
        finally:
            broker.close()
    print("held" if good else "NOT HELD")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
