"""A journal that a card damages: whatever can be read is, nothing damaged is given to anybody, what is missing is said.

The full count of random damage: tests/bench/journal.py.  Here each kind of damage by hand, and a few at random.
"""

import random
import shutil
import sqlite3
from pathlib import Path

import pytest

from neckyoke.bridge.events import Attention, Event, read_event
from neckyoke.bridge.journal.herd_tables import HerdReading
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.mark import Given, HeldError, Mark
from neckyoke.bridge.journal.pages import Pages
from neckyoke.bridge.journal.reading import read_only
from neckyoke.bridge.journal.rows import total_of
from tests.bridge.journal.test_herd_tables import dosed
from tests.support.corruptions import NAME, Left, Toll, check, left_by_a_kill
from tests.support.damage import damaged, looked_at
from tests.support.events import weighed, weighing
from tests.support.running import run, until


@pytest.fixture(scope="module")
def left() -> Left:
    return left_by_a_kill()


def test_some_damage_at_random(left: Left) -> None:
    toll = Toll()
    for seed in range(16):
        check(left, random.Random(seed), toll)
    assert toll.lost > 0


def test_a_digit_that_flipped_is_given_to_nobody_and_told_once(tmp_path: Path) -> None:
    path = tmp_path / NAME
    wrong = "update event set body = replace(body, '318.5', '398.5') where seq in (7, 8, 20)"
    (told,) = damaged(path, lambda connection: connection.execute(wrong))
    assert told.about == "journal-damaged"
    assert "3 events are missing (7 to 8, 20)" in told.text

    async def again() -> None:
        said: list[Attention] = []
        journal = await looked_at(path, said)
        assert said == []
        assert [seq for seq, _ in await journal.read(0, 100)] == [*range(1, 7), *range(9, 20)]
        (event,) = await journal.append([weighed(21)])
        assert event.sequence is not None
        assert int(event.sequence) > 20, "the number of a lost event is given to no other"
        await journal.close()

    run(again())
    with sqlite3.connect(path) as connection:
        assert connection.execute("select what from aside").fetchall() == [("event 7",), ("event 8",), ("event 20",)]
    connection.close()


def test_a_journal_of_which_nothing_is_left_to_read_waits_for_more(tmp_path: Path) -> None:
    path = tmp_path / NAME
    damaged(
        path, lambda connection: connection.execute("update event set body = replace(body, 'moor', 'mood')"), events=3
    )

    async def again() -> None:
        journal = await looked_at(path, [])
        assert journal.last == 0
        await journal.append([weighed(4)])
        (row,) = await journal.read(0, 9)
        assert read_event(row[1]).data == weighing(4)
        await journal.close()

    run(again())


def test_a_row_that_is_damaged_while_it_runs_is_passed(tmp_path: Path) -> None:
    said: list[Attention] = []

    async def day() -> None:
        journal = await looked_at(tmp_path / NAME, said)
        await journal.append([weighed(number) for number in range(1, 101)])
        await journal.append([weighed(50, revision=2, kg=330.0)])
        worse = "update event set body = replace(body, 'crush', 'crash') where seq in (20, 101)"
        await journal._writer.call(lambda store: store.rows(worse))
        assert [seq for seq, _ in await journal.read(10, 20)] == [*range(11, 20), *range(21, 32)]
        assert [one.about for one in said] == ["journal-rows-damaged"]
        one = await journal.weighing("crush", weighing=weighing(50).weighing)
        assert one is not None
        assert one.revision == 1, "the revision before the damaged one is the newest that can be read"
        assert len(await journal.weighings()) == 99
        assert (journal.health.aside, journal.last) == (2, 100)
        await journal.close()

    async def again() -> None:
        await (await looked_at(tmp_path / NAME, said)).close()

    run(day())
    run(again())
    assert len(said) == 1, "what was told and set aside is not told again as missing"


def test_who_is_withheld_by_a_dose_whose_row_is_damaged_is_told_by_what_can_be_read(tmp_path: Path) -> None:
    """The newest revision says a later date and is damaged: that it is missing is said, and the one before it holds."""
    said: list[Attention] = []

    async def day(*events: Event) -> list[str]:
        journal = await looked_at(tmp_path / NAME, said)
        if events:
            await journal.append(events)
        found = await journal.herd(HerdReading.withheld)
        await journal.close()
        return [until for *_, until in found if until]

    assert run(day(weighed(1), dosed(2, meat="2026-12-01"), dosed(2, 2, meat="2026-12-20"))) == ["2026-12-20"]
    with sqlite3.connect(tmp_path / NAME, isolation_level=None) as connection:
        connection.execute("update event set body = replace(body, '12-20', '12-10') where seq = 3")
    connection.close()
    assert run(day()) == ["2026-12-01"]
    assert len(said) == 1
    assert "1 event is missing (3)" in said[0].text


def test_a_value_that_is_damaged_while_it_runs_is_told_when_it_is_asked_for(tmp_path: Path) -> None:
    said: list[Attention] = []

    async def day() -> None:
        journal = await looked_at(tmp_path / NAME, said)
        await journal.append(values={"memory/crush": "1", "memory/yard": "2"})
        worse = "update kept set body = '7' where name = 'memory/crush'"
        await journal._writer.call(lambda store: store.rows(worse))
        assert await journal.kept("value") == {"memory/yard": "2"}
        assert [one.about for one in said] == ["journal-rows-damaged"]
        assert "cannot be read: value memory/crush. In all 1" in said[0].text
        assert (journal.health.aside, await journal.kept("value")) == (1, {"memory/yard": "2"})
        await journal.close()

    run(day())


def test_what_was_remembered_and_is_damaged_is_forgotten_and_told(tmp_path: Path) -> None:
    path = tmp_path / NAME
    wrong = "update kept set body = '9' || body where kind in ('value', 'position')"
    (told,) = damaged(path, lambda connection: connection.execute(wrong))
    assert "what was remembered cannot be read: position farm, value memory/crush" in told.text

    async def again() -> None:
        journal = await looked_at(path, [])
        assert (journal.position("farm"), await journal.kept("value")) == (0, {})
        assert journal.open_stays == {"crush": "a stay"}
        await journal.close()

    run(again())


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ("kept set body = cast(x'37ff' as text) where kind = 'value'", "cannot be read: value memory/crush"),
        ("event set body = cast(cast(body as blob) || x'ff' as text) where seq = 7", "1 event is missing (7)"),
    ],
)
def test_a_byte_that_is_no_text_costs_its_row_and_not_the_file(tmp_path: Path, wrong: str, told: str) -> None:
    """SQLite's own check of a file does not look at what a text is made of."""
    (said,) = damaged(tmp_path / NAME, lambda connection: connection.execute(f"update {wrong}"))
    assert told in said.text
    assert not list(tmp_path.glob("*.damaged-*"))


@pytest.mark.parametrize(
    "column", ["weighing = 'another'", "revision = 9", "tag = '999'", "tag = null", "began = '1970'", "type = 'odd'"]
)
def test_a_column_that_disagrees_with_its_event_is_put_right(tmp_path: Path, column: str) -> None:
    path = tmp_path / NAME
    said = damaged(path, lambda connection: connection.execute(f"update event set {column} where seq = 7"))
    assert said == []
    with read_only(path) as reading:
        (row,) = reading.rows("select type, weighing, revision, tag, began from event where seq = 7")
    event = weighed(7)
    assert row == (event.type, weighing(7).weighing, 1, event.subject, "2026-11-24T02:18:00.000Z")


def test_a_schema_that_names_another_index_is_damage_and_all_is_found(tmp_path: Path) -> None:
    """The index is emptied by pointing its name at an empty one, which the schema's own sum shows."""
    path = tmp_path / NAME

    def empty(connection: sqlite3.Connection) -> None:
        connection.execute("pragma writable_schema = on")
        connection.execute("create index no_tag on event(tag) where tag = 'nobody'")
        connection.execute(
            "update sqlite_master set rootpage = (select rootpage from sqlite_master where name = 'no_tag')"
            " where name = 'event_tag'"
        )
        connection.execute("delete from sqlite_master where name = 'no_tag'")

    said = damaged(path, empty)
    assert [one.about for one in said] == ["journal-damaged"]

    async def again() -> None:
        journal = await looked_at(path, [])
        assert [one.data for one in await journal.weighings(tag=f"999{7:012d}")] == [weighing(7)]
        await journal.close()

    run(again())


def test_the_log_that_broke_off_is_read_from_its_frames(tmp_path: Path) -> None:
    """A kill leaves part of the journal in its log; a flipped bit in it makes SQLite drop all that follows."""
    path, killed = tmp_path / NAME, tmp_path / "killed"

    async def day() -> None:
        journal = await looked_at(path, [])
        await journal.append([weighed(1)])
        await journal.close()
        journal = await looked_at(path, [])
        for number in range(2, 31):
            await journal.append([weighed(number)], values={"memory/crush": str(number)})
        shutil.copytree(tmp_path, killed)
        await journal.close()

    run(day())
    (killed / f"{NAME}-shm").unlink()
    log = bytearray((killed / f"{NAME}-wal").read_bytes())
    log[32 + 24 + 3000] ^= 1
    (killed / f"{NAME}-wal").write_bytes(log)
    said: list[Attention] = []

    async def again() -> None:
        journal = await looked_at(killed / NAME, said)
        assert [seq for seq, _ in await journal.read(0, 100)] == list(range(1, 31))
        assert await journal.kept("value") == {"memory/crush": "30"}
        await journal.close()

    run(again())
    assert len(said) == 1
    assert "29 were found again beside their place" in said[0].text


def test_a_log_that_is_gone_is_counted(tmp_path: Path) -> None:
    path, killed = tmp_path / NAME, tmp_path / "killed"

    async def day() -> None:
        journal = await looked_at(path, [])
        await journal.append([weighed(1)])
        await journal.close()
        journal = await looked_at(path, [])
        await journal.append([weighed(number) for number in range(2, 12)])
        shutil.copytree(tmp_path, killed)
        await journal.close()

    run(day())
    (killed / f"{NAME}-wal").unlink()
    (killed / f"{NAME}-shm").unlink()
    said: list[Attention] = []

    async def again() -> None:
        journal = await looked_at(killed / NAME, said)
        assert journal.health.missing == 10
        await journal.close()

    run(again())
    assert "10 events are missing (2 to 11)" in said[0].text


def test_retention_leaves_nothing_to_be_missed(tmp_path: Path) -> None:
    said: list[Attention] = []

    async def day() -> None:
        journal = await looked_at(tmp_path / NAME, said)
        await journal.append([weighed(number) for number in range(1, 101)])
        await journal._writer.call(lambda store: store.prune(floor=90, before=1e12, keep_bytes=10**9))
        await journal.close()
        journal = await looked_at(tmp_path / NAME, said)
        assert (await journal.read(0, 1))[0][0] == 91
        await journal.close()

    run(day())
    assert said == []


def test_pages_of_a_file_without_head_or_tail_give_what_is_on_them(tmp_path: Path) -> None:
    """What SQLite reads of a sound file is what we read of its pages; of one cut anywhere, all that is whole."""
    path = tmp_path / NAME
    damaged(path, lambda _: None, events=60)
    with read_only(path) as reading:
        there = dict(reading.read(0, 100))
        kept = {(kind, name, body) for kind, name, body in reading.rows("select kind, name, body from kept")}
    assert {found.seq: found.body for found in Pages(path, b"").events()} == there
    assert {tuple(one) for one in Pages(path, b"").kept()} == kept
    body = path.read_bytes()
    for end in range(0, len(body), 3000):
        (tmp_path / "cut").write_bytes(b"\xff" * 200 + body[200:end])
        found = {one.seq: one.body for one in Pages(tmp_path / "cut", b"").events()}
        assert found.items() <= there.items()
        for seq, text in there.items():
            assert ((text + total_of(text)).encode() in body[200:end]) <= (seq in found)


def test_the_mark_keeps_the_last_number_and_a_second_daemon_out(tmp_path: Path, no_leaks: None) -> None:
    mark = Mark.take(tmp_path / NAME)
    assert mark.read() == (0, 0), "nothing is known"
    for last in (7, 12345, 10**11, 8):
        mark.write(Given(last, 3))
        assert mark.read() == Given(last, 3)
    with pytest.raises(HeldError, match="another neckyoke has it open"):
        Mark.take(tmp_path / NAME)
    mark.close()
    lock = tmp_path / f"{NAME}.lock"
    assert lock.stat().st_mode & 0o133 == 0, "nobody else writes it, and nobody runs it"
    for was, damage in ((b"8", b"9"), (b"9", b"\xff")):
        lock.write_bytes(lock.read_bytes().replace(was, damage, 1))
        mark = Mark.take(tmp_path / NAME)
        assert mark.read() == (0, 0), "a mark that is damaged says nothing"
        mark.close()


DAY_S, YEARS_S = 86400.0, 10 * 365 * 86400.0


def test_a_clock_that_leapt_deletes_nothing_until_days_have_shown_it_right(tmp_path: Path) -> None:
    """Ten years ahead and sure of itself: everything would be too old.  From the third day on it is believed."""
    kept = []

    async def day(wall: float, number: int) -> None:
        journal = await Journal.open(tmp_path / NAME, keep_days=400, wall=lambda: wall)
        journal._pruned_at = -1_000_000
        await journal.append([weighed(number)])
        await until(lambda: journal._pruned_at == journal.last, "retention has looked")
        kept.append(len(await journal.weighings()))
        await journal.close()

    for number in range(5):
        run(day(1.79e9 + number * DAY_S, number))
    for number in range(4):
        run(day(1.79e9 + YEARS_S + number * DAY_S, 10 + number))
    assert kept == [1, 2, 3, 4, 5, 6, 7, 3, 4]
