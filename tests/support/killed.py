"""A process that weighs as fast as it can until it is killed: journal, file outlet and MQTT outlet, as in the daemon.

    python -m tests.support.killed FOLDER MQTT-URL LAST

It goes on where it was killed, finishes the stay that was open, and ends by itself after stay number LAST.  Each line
it prints was told of as safe before it was printed: "settled N" or "ended N".
"""

import asyncio
import sys
from pathlib import Path

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import Flag, Settled, Weighing, wrap
from neckyoke.bridge.journal.journal import Journal
from tests.support.events import SITE, weighed, weighing
from tests.support.outlet import broker_outlet, file_outlet


def settled(number: int) -> Settled:
    """Make the event of a stay's first weight."""
    whole = weighing(number)
    fields = set(Settled.model_fields) & set(Weighing.model_fields)
    return Settled.model_validate(whole.model_dump(include=fields))


async def weigh(folder: Path, url: str, last: int) -> None:
    """Weigh until stay number `last` has ended."""

    async def answer(_station: str, _payload: bytes) -> str:
        return "{}"

    journal = await Journal.open(folder / "journal.db", outlets=["events", "farm"])
    outlets = [
        file_outlet(folder / "events.jsonl", journal, rotate_mb=0.2),
        broker_outlet(folder, OutletTable(mqtt=url), journal, answer),
    ]
    running = [asyncio.create_task(outlet.run()) for outlet in outlets]
    for station, body in journal.open_stays.items():
        stay = Weighing.model_validate_json(body)
        event = wrap(stay, site=SITE, time=stay.off, key=f"{stay.weighing}/{stay.revision}")
        await journal.append([event], {station: None})
    number = int((await journal.kept("value")).get("number", "0"))
    while number < last:
        number += 1
        standing = weighing(number).model_copy(update={"flags": (Flag.INTERRUPTED,)})
        first = wrap(settled(number), site=SITE, time=standing.on, key=f"{number}")
        await journal.append([first], {"crush": standing.model_dump_json()}, {"number": str(number)})
        print("settled", number, flush=True)
        await journal.append([weighed(number)], {"crush": None})
        print("ended", number, flush=True)
    for outlet in outlets:
        await outlet.stop(60.0)
    for one in running:
        await one
    await journal.close()


if __name__ == "__main__":
    asyncio.run(weigh(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])))
