"""A backup made while the journal is written at full pace, and laid down elsewhere: what it holds, and who waited.

    python tests/bench/moving.py [--weighings 20000]

Said are the weighings before, those made safe while it was copied, what the copy holds, how long one weighing waited to
be safe while nothing was copied and while it was (ratio in the same run), and whether what is sent afterwards from
both sides is each id once.
"""

import argparse
import asyncio
import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import read_event
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.reading import read_only
from neckyoke.bridge.moving.archive import make, read
from neckyoke.bridge.moving.restore import restore
from tests.support.daemon import CONFIG
from tests.support.events import weighed


async def weigh(journal: Journal, number: int) -> float:
    """Make one weighing safe; return how long it waited, in seconds."""
    began = time.perf_counter()
    await journal.append([weighed(number)])
    return time.perf_counter() - began


async def day(folder: Path, many: int) -> None:
    """Weigh, back up meanwhile, lay it down, and look."""
    config_path = folder / "neckyoke.toml"
    config_path.write_text(CONFIG.format(indicator="tcp://127.0.0.1:9", panel="tcp://127.0.0.1:10"), encoding="utf-8")
    config = load_config(config_path)
    journal = await Journal.open(folder / "neckyoke.db", outlets=["events"])
    for first in range(1, many, 500):
        await journal.append([weighed(number) for number in range(first, min(first + 500, many))])
    alone = [await weigh(journal, number) for number in range(many, many + 200)]
    number, meanwhile, began = many + 200, list[float](), time.perf_counter()
    making = asyncio.create_task(
        asyncio.to_thread(make, folder / "b", config, config_path, now=datetime.now(UTC), version="bench")
    )
    while not making.done():
        meanwhile.append(await weigh(journal, number))
        number += 1
    backup, took = await making, time.perf_counter() - began
    journal.note_position("events", backup.last)  # all that the copy holds was sent, and not more
    await journal.close()
    print(f"{many + 199} weighings before; {len(meanwhile)} made safe while it was backed up, {took:.1f} s")
    print(f"the backup holds {backup.weighings}, all up to one moment: {backup.weighings == backup.last}")
    slower = statistics.median(meanwhile) / statistics.median(alone)
    longest = max(meanwhile) / max(alone)
    print(f"a weighing waited {slower:.1f} times as long meanwhile (median), the longest {longest:.1f} times")

    told = list(restore(read(folder / "b"), folder / "new" / "neckyoke.toml"))
    with read_only(folder / "new" / "neckyoke.db") as there, read_only(folder / "neckyoke.db") as here:
        theirs = [read_event(body).id for body in there.latest()]
        ours = [read_event(body).id for body in here.latest()]
    print(f"laid down: {told[-1]}")
    print(f"each once: {len(theirs) == len(set(theirs))}; as they were: {theirs == ours[: len(theirs)]}")
    print(f"all of the old box: {len(ours)} of {number - 1}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--weighings", type=int, default=20_000)
    with tempfile.TemporaryDirectory() as made:
        asyncio.run(day(Path(made), parser.parse_args().weighings))
