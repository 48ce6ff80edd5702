"""A journal of the schema before is taken over; what makes no sense in it is set aside."""

import contextlib
import gzip
import sqlite3
from pathlib import Path

import pytest

from neckyoke.bridge.animal_event import Animal
from neckyoke.bridge.events import Attention, Event, Treatment, read_event, wrap
from neckyoke.bridge.journal.reading import read_only
from neckyoke.bridge.journal.store import BIRTH_PRAGMAS, SCHEMA_VERSION, Entry, Store, connect
from tests.support.corruptions import NAME
from tests.support.damage import damaged, looked_at
from tests.support.events import DAY, SITE, weighed, weighing
from tests.support.running import run

OLD = Path(__file__).with_name("schema-1.db.gz")
"""Written by the version before the sums: 37 events, of which 30 weighings; the last stay open."""


@pytest.mark.parametrize("version", [0, 1, 2, 4, 77])
def test_a_version_that_flipped_is_no_later_version(tmp_path: Path, version: int) -> None:
    path = tmp_path / NAME
    (told,) = damaged(path, lambda connection: connection.execute(f"pragma user_version = {version}"))
    assert told.about == "journal-damaged"
    assert "read from it into a new one: 20 events;" in told.text


def test_a_journal_of_the_version_before_is_taken_over(tmp_path: Path) -> None:
    path = tmp_path / NAME
    path.write_bytes(gzip.decompress(OLD.read_bytes()))
    with read_only(path) as reading:
        before, weighings = reading.read(0, 100), reading.weighings()
        latest, values = [*reading.latest()], reading.kept("value")
    assert (len(before), len(weighings), len(latest)) == (37, 30, 30)
    said: list[Attention] = []

    async def day() -> list[Event]:
        journal = await looked_at(path, said)
        assert (journal.position("farm"), journal.position("events")) == (20, 38)
        assert await journal.kept("value") == values
        assert read_event(before[-1][1]).sequence == "0000000037"
        written = await journal.append([weighed(31)])
        await journal.close()
        return written

    (event,) = run(day())
    assert event.sequence == "0000000038"
    assert said == []
    with read_only(path) as reading:
        assert reading.read(0, 37) == before
        assert reading.rows("pragma user_version") == [(SCHEMA_VERSION,)]
        assert reading.rows("select count(*) from event where sum is null") == [(0,)]
        assert reading.rows("select count(*) from kept where sum is null") == [(0,)]


def test_an_old_row_that_makes_no_sense_is_set_aside(tmp_path: Path) -> None:
    path = tmp_path / NAME
    path.write_bytes(gzip.decompress(OLD.read_bytes()))
    with sqlite3.connect(path, isolation_level=None) as connection:
        connection.execute("""update event set body = replace(body, '"data"', '"dat"') where seq = 3""")
        connection.execute("update event set body = replace(body, '0000000005', '0000000006') where seq = 5")
        connection.execute("update event set body = cast(x'7bff7d' as text) where seq = 6")
    connection.close()
    said: list[Attention] = []

    async def day() -> None:
        journal = await looked_at(path, said)
        await journal.close()

    run(day())
    assert "3 events are missing (3, 5 to 6)" in said[0].text


SECOND = (  # as the version wrote it that brought the herd book
    """create table event(seq integer primary key, type text not null, at integer,
       weighing text, revision integer, tag text, began text, body text not null) strict""",
    "create unique index event_weighing on event(weighing, revision) where weighing is not null",
    "create index event_tag on event(tag) where tag is not null",
    "create index event_began on event(began) where began is not null",
    "create table kept(kind text, name text, body text not null, primary key(kind, name)) strict, without rowid",
    "create table animal(animal text primary key, revision integer not null, body text not null) strict, without rowid",
    """create table withheld(weighing text primary key, revision integer not null, animal text, tag text, meat text,
       until text not null) strict, without rowid""",
    "create index event_animal on event(seq) where type = 'neckyoke.animal'",
    "create index event_goes on event(seq) where type not in ('neckyoke.animal', 'neckyoke.job')",
    """create index event_of on event(json_extract(body, '$.data.animal.id'))
       where weighing is not null and json_extract(body, '$.data.animal.id') is not null""",
    "pragma user_version = 2",
)
FIRST = (*SECOND[:5], "pragma user_version = 1")


@pytest.mark.parametrize("statements", [FIRST, SECOND], ids=["before the herd book", "with it"])
def test_the_herd_book_of_an_earlier_version_is_kept_or_made_of_its_events(
    tmp_path: Path, statements: tuple[str, ...]
) -> None:
    animal = wrap(Animal(animal="a"), site=SITE, time=DAY, key="a/1")
    dose = Treatment(name="oral drench", withheld_until="2026-12-24")
    drenched = weighed(1).model_copy(update={"data": weighing(1).model_copy(update={"treatments": (dose,)})})
    tag = weighing(1).tag
    assert tag is not None
    with sqlite3.connect(tmp_path / NAME, isolation_level=None) as old:
        for statement in (*BIRTH_PRAGMAS, *statements):
            old.execute(statement)
        for seq, event in ((11, animal), (12, drenched)):  # ten were deleted for their age
            body = event.model_copy(update={"sequence": f"{seq:010d}"}).to_json()
            columns = (weighing(1).weighing, 1, tag.id, "2026-11-24T02:12:00.000Z") if seq == 12 else (None,) * 4
            old.execute("insert into event values (?, ?, null, ?, ?, ?, ?, ?)", (seq, event.type, *columns, body))
            if seq == 11 and statements is SECOND:
                old.execute("insert into animal values ('a', 1, ?)", (body,))
        if statements is SECOND:
            row = (weighing(1).weighing, 1, None, tag.id, "2026-12-24", "2026-12-24")
            old.execute("insert into withheld values (?, ?, ?, ?, ?, ?)", row)
        old.execute("insert into kept values ('value', 'memory/crush', '{}')")
    old.close()

    with contextlib.closing(Store(connect(tmp_path / NAME))) as store:
        assert store.herd_agrees()
        assert [read_event(body).data for body in store.herd.animals()] == [animal.data]
        assert store.herd.withheld() == [(weighing(1).weighing, 1, None, tag.id, "2026-12-24")]
        assert (store.first, store.last, store.kept("value")) == (12, 12, {"memory/crush": "{}"})
        assert [sequence for sequence, _ in store.read(0, 9)] == [11, 12]
        assert store.weighings(animals=["a"]) == []
        assert (store.commit([Entry([weighed(2)])], None)[0][0].sequence, store.unsound_kept) == (13, set())
    with contextlib.closing(Store(connect(tmp_path / NAME))) as store:
        assert store.last == 13, "it is taken over once"
