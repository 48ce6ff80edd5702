"""A journal whose disk refuses after so many writes; stopped there, and begun again on a disk that takes them."""

import asyncio
from pathlib import Path

from neckyoke.bridge.events import Attention, Weighing, read_event
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.reading import read_only
from tests.support.events import weighed
from tests.support.refusing import Refusing
from tests.support.running import run, until

WEIGHINGS = 6


def written(path: Path) -> list[int]:
    """Return the numbers of the weighings in a journal."""
    with read_only(path) as reading:
        found = [read_event(body).data for _, body in reading.read(0, 1000)]
    return [data.number for data in found if isinstance(data, Weighing)]


def check_refused(system: Refusing, folder: Path, n: int) -> bool:
    """Let the disk take n writes more, then none: nothing is lost or twice; return whether all were taken."""
    before = system.refused
    all_safe = run(_stuck(system, folder, n))
    assert all_safe or system.refused > before
    run(_again(folder, all_safe=all_safe))
    assert written(folder / "journal.db") == list(range(WEIGHINGS + 1)), f"refused after {n} writes"
    return all_safe


async def _stuck(system: Refusing, folder: Path, n: int) -> bool:
    said: list[Attention] = []
    journal = await Journal.open(folder / "journal.db", say=said.append, spare=folder / "spare")
    await journal.append([weighed(0)])
    system.left = n
    futures = []
    for number in range(1, WEIGHINGS + 1):
        futures.append(journal.submit([weighed(number)], {"crush": f"stay {number}"}, {"number": str(number)}))
        await asyncio.sleep(0.002)
    await until(lambda: bool(said) or all(one.done() for one in futures), "stuck or done")
    await journal.close(0.02)
    safe = sum(one.done() and not one.cancelled() for one in futures)
    assert journal.left == (WEIGHINGS - safe, folder / "spare" if safe < WEIGHINGS else None)
    if safe < WEIGHINGS:
        assert said[0].about == "journal-stuck"
        assert f"kept in {folder / 'spare'}" in journal.health.trouble["journal-stuck"]
    system.left = None
    return safe == WEIGHINGS


async def _again(folder: Path, *, all_safe: bool) -> None:
    said: list[Attention] = []
    journal = await Journal.open(folder / "journal.db", say=said.append, spare=folder / "spare")
    assert journal.open_stays == {"crush": f"stay {WEIGHINGS}"}
    assert await journal.kept("value") == {"number": f"{WEIGHINGS}"}
    await journal.close()
    assert [(one.about, one.over) for one in said] == ([] if all_safe else [("journal-spare", True)])
    assert not (folder / "spare").exists()
