"""A journal and an events file on a disk that really fills up: `python -m tests.support.full_disk FOLDER`.

FOLDER is a file system of a few megabytes (tests/bench/journal.py mounts one in memory).
"""

import asyncio
import json
import sys
from pathlib import Path

from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from tests.support.events import weighed
from tests.support.outlet import file_outlet
from tests.support.running import until

EVENTS = 1000


async def weigh(folder: Path) -> None:
    """Fill the disk, weigh on, make room, and look that everything is there once."""
    said: list[Attention] = []
    journal = await Journal.open(folder / "journal.db", outlets=["events"], say=said.append)
    outlet = file_outlet(folder / "events.jsonl", journal, said.append)
    running = asyncio.create_task(outlet.run())
    await journal.append([weighed(0)])
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError:
            pass
    futures = [journal.submit([weighed(number)]) for number in range(1, EVENTS)]
    await until(lambda: any(one.about == "journal-stuck" for one in said), "the full disk is said")
    safe = sum(future.done() for future in futures)
    assert safe < EVENTS - 1
    filler.unlink()
    await asyncio.gather(*futures)
    await until(lambda: outlet.health().backlog == 0, "the file has them too")
    await outlet.stop()
    await running
    await journal.close()
    numbers = [json.loads(line)["data"]["number"] for line in (folder / "events.jsonl").read_text().splitlines()]
    assert numbers == list(range(EVENTS))
    told = ", ".join(f"{one.about} {'over' if one.over else 'begun'}" for one in said)
    print(f"full: {EVENTS} events through a full disk, {safe} of them safe while it was; said: {told}")


if __name__ == "__main__":
    asyncio.run(weigh(Path(sys.argv[1])))
