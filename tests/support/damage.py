"""A journal that is written, changed behind its back and opened again."""

import sqlite3
from collections.abc import Callable
from pathlib import Path

from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from tests.support.events import weighed
from tests.support.running import run, until


async def looked_at(path: Path, said: list[Attention]) -> Journal:
    journal = await Journal.open(path, outlets=["farm"], say=said.append)
    await until(lambda: journal.looked_through, "all is looked through")
    return journal


def damaged(path: Path, write: Callable[[sqlite3.Connection], object], events: int = 20) -> list[Attention]:
    """Write events, change the file behind the journal's back, open it again; return what is said."""
    said: list[Attention] = []

    async def before() -> None:
        journal = await looked_at(path, said)
        for number in range(1, events + 1):
            await journal.append([weighed(number)], {"crush": "a stay"}, {"memory/crush": str(number)})
        await journal.set_position("farm", 5)
        await journal.close()

    async def after() -> None:
        await (await looked_at(path, said)).close()

    run(before())
    with sqlite3.connect(path, isolation_level=None) as connection:
        write(connection)
    connection.close()
    run(after())
    return said
