"""A journal that a card damages at random, and what must hold however it does.

The journal is left as a kill leaves it: part of it in its file, part in its write-ahead log.
"""

import asyncio
import random
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.rows import total_of
from tests.support.events import link_state, weighed, weighing
from tests.support.power_day import in_memory
from tests.support.running import until

NAME = "journal.db"
FILED, LOGGED, LONG = 300, 60, 40


@dataclass(slots=True)
class Left:
    """What a kill left: the files by name, and the events by sequence as they were written."""

    files: dict[str, bytes]
    events: dict[int, str]


@dataclass(slots=True)
class Toll:
    """What came of many corruptions; `of` counts them by what was done."""

    lost: int = 0
    of: Counter[str] = field(default_factory=Counter)


async def _write(folder: Path) -> dict[int, str]:
    journal = await Journal.open(folder / NAME, outlets=["farm"])
    for number in range(FILED):
        event = weighed(number) if number % 5 else link_state(number)
        if number % LONG == 1:  # longer than a page
            notes = tuple(f"note {n} on {number}: lame, near hind" for n in range(300))
            event = event.model_copy(update={"data": weighing(number).model_copy(update={"notes": notes})})
        await journal.append([event], {"crush": f"stay {number}"}, {f"weighed/{number % 100}": str(number)})
        if number == FILED - LOGGED:
            await journal.set_position("farm", number - 20)
            await journal.close()
            journal = await Journal.open(folder / NAME, outlets=["farm"])
    events = dict(await journal.read(0, FILED))
    shutil.copytree(folder, folder / "killed")
    await journal.close()
    return events


def left_by_a_kill() -> Left:
    """Write a journal and kill it."""
    with tempfile.TemporaryDirectory(dir=in_memory()) as folder:
        events = asyncio.run(_write(Path(folder)))
        killed = Path(folder) / "killed"
        files = {path.name: path.read_bytes() for path in killed.iterdir() if not path.name.endswith("-shm")}
    assert len(events) == FILED
    assert len(files[f"{NAME}-wal"]) > 100_000, "some of it is in the log only"
    return Left(files, events)


def _garbage(chance: random.Random, size: int) -> bytes:
    return chance.choice((bytes(size), b"\xff" * size, chance.randbytes(size)))


def _flip(body: bytearray, chance: random.Random) -> None:
    body[chance.randrange(len(body))] ^= 1 << chance.randrange(8)


def _byte(body: bytearray, chance: random.Random) -> None:
    body[chance.randrange(len(body))] = chance.randrange(256)


def _flips(body: bytearray, chance: random.Random) -> None:
    for _ in range(chance.randint(2, 30)):
        _flip(body, chance)


def _sector(body: bytearray, chance: random.Random) -> None:
    at = chance.randrange(len(body) // 512) * 512
    body[at : at + 512] = _garbage(chance, len(body[at : at + 512]))


def _page(body: bytearray, chance: random.Random) -> None:
    at = chance.randrange(len(body) // 4096) * 4096
    body[at : at + 4096] = _garbage(chance, len(body[at : at + 4096]))


def _cut(body: bytearray, chance: random.Random) -> None:
    del body[chance.randrange(len(body)) :]


def _head(body: bytearray, chance: random.Random) -> None:
    at = chance.randrange(100)
    size = chance.choice((1, 1, 4, 100 - at))
    body[at : at + size] = _garbage(chance, size)


def _roots(body: bytearray, chance: random.Random) -> None:
    page = chance.randrange(10)
    body[page * 4096 + chance.randrange(16)] = chance.randrange(256)


DONE: dict[str, Callable[[bytearray, random.Random], None]] = {
    "flip": _flip,
    "byte": _byte,
    "flips": _flips,
    "sector": _sector,
    "page": _page,
    "cut": _cut,
    "head": _head,
    "roots": _roots,
}


def corrupt(left: Left, chance: random.Random) -> tuple[str, dict[str, bytes]]:
    """Damage one of the files, or both; return what was done."""
    files = dict(left.files)
    names = chance.choice(([NAME], [f"{NAME}-wal"], [NAME, f"{NAME}-wal"]))
    done = []
    for name in names:
        what = chance.choice(list(DONE))
        body = bytearray(files[name])
        DONE[what](body, chance)
        files[name] = bytes(body)
        done.append(f"{what} of {name.removeprefix(NAME) or 'file'}")
    return " and ".join(done), files


async def _opened(path: Path, number: int, said: list[Attention]) -> tuple[dict[int, str], int]:
    """Open what is left, and return the events that it gives and the count of those it says are missing or damaged."""
    journal = await Journal.open(path, outlets=["farm"], say=said.append)
    await until(lambda: journal.looked_through, "all is looked through")
    events = dict(await journal.read(0, 10**6)) if journal.last else {}
    assert journal.last == max(events, default=0)
    (written,) = await journal.append([weighed(number)])
    await journal.weighings(limit=50)
    health = journal.health
    assert int(written.sequence or 0) > FILED, "no sequence is given twice"
    await journal.close()
    return events, health.missing + health.aside


def check(left: Left, chance: random.Random, toll: Toll) -> None:
    """Damage it, open it, and compare."""
    done, files = corrupt(left, chance)
    toll.of[done] += 1
    with tempfile.TemporaryDirectory(dir=in_memory()) as folder:
        for name, body in files.items():
            (Path(folder) / name).write_bytes(body)
        said: list[Attention] = []
        events, counted = asyncio.run(_opened(Path(folder) / NAME, 10**6, said))
        wrong = [seq for seq, body in events.items() if left.events.get(seq) != body]
        assert not wrong, f"{done}: {wrong} are not as they were written"
        lost = left.events.keys() - events.keys()
        toll.lost += len(lost)
        readable = [seq for seq in lost if _is_readable(left.events[seq], files)]
        assert not readable, f"{done}: {readable} could be read"
        assert not lost or (said and counted >= len(lost)), f"{done}: {len(lost)} lost, {counted} said"
        again: list[Attention] = []
        after, _ = asyncio.run(_opened(Path(folder) / NAME, 10**6 + 1, again))
        assert {*after} >= {*events}, f"{done}: lost at the next start"
        assert not again, f"{done}: said twice: {again}"


def _is_readable(body: str, files: dict[str, bytes]) -> bool:
    """Return whether an event stands whole in a file: its text, and its sum behind it."""
    whole = (body + total_of(body)).encode()
    return any(whole in one for one in files.values())
