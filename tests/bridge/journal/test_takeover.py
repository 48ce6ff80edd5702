"""A journal of the schema before is taken over; what makes no sense in it is set aside."""

import gzip
import sqlite3
from pathlib import Path

import pytest

from neckyoke.bridge.events import Attention, Event, read_event
from neckyoke.bridge.journal.reading import read_only
from neckyoke.bridge.journal.store import SCHEMA_VERSION
from tests.support.corruptions import NAME
from tests.support.damage import damaged, looked_at
from tests.support.events import weighed
from tests.support.running import run

OLD = Path(__file__).with_name("schema-1.db.gz")
"""Written by the version before the sums: 37 events, of which 30 weighings; the last stay open."""


@pytest.mark.parametrize("version", [0, 1, 2, 4, 77])
def test_a_version_that_flipped_is_no_later_version(tmp_path: Path, version: int) -> None:
    path = tmp_path / NAME
    (told,) = damaged(path, lambda connection: connection.execute(f"pragma user_version = {version}"))
    assert told.about == "journal-damaged"
    assert "20 events were read from it" in told.text


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
