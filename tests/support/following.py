"""A process that weighs and follows its journal into one far side until it is killed.

    python -m tests.support.following FOLDER TABLE LAST

TABLE is an outlet's table as JSON.  It prints "ended N" once weighing N is safe, and ends after LAST has been taken.
Every seventh weighing is amended at once.
"""

import asyncio
import json
import sys
from pathlib import Path

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.journal.journal import Journal
from tests.support.events import weighed
from tests.support.far_side import follower


async def follow(folder: Path, table: OutletTable, last: int) -> None:
    """Weigh and follow."""
    journal = await Journal.open(folder / "journal.db", outlets=["far"])
    outlet = follower(table, folder, journal)
    outlet._backoff._longest_s = 0.2
    running = asyncio.create_task(outlet.run())
    number = int((await journal.kept("value")).get("number", "0"))
    while number < last:
        number += 1
        events = [weighed(number), *([weighed(number, revision=2, kg=300.0)] if number % 7 == 0 else [])]
        await journal.append(events, None, {"number": str(number)})
        print("ended", number, flush=True)
    await outlet.stop(60.0)
    await running
    await journal.close()


if __name__ == "__main__":
    asyncio.run(follow(Path(sys.argv[1]), OutletTable.model_validate(json.loads(sys.argv[2])), int(sys.argv[3])))
