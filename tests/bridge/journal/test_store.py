"""The journal's file and its one writer, statement by statement; what is in it is read back by plain SQL."""

import contextlib
import sqlite3
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.events import read_event
from neckyoke.bridge.journal import store as store_module
from neckyoke.bridge.journal.checkup import INDEXES, is_believed, look_through, missing, remember_missing, told_aside
from neckyoke.bridge.journal.mark import Given
from neckyoke.bridge.journal.pages import LEAF_INDEX, PAGE
from neckyoke.bridge.journal.reading import StoreError
from neckyoke.bridge.journal.rows import Found, total_of
from neckyoke.bridge.journal.store import DamagedError, Entry, Store, connect, damaged
from tests.support.events import link_state, weighed

DAY_S = 86400


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.db"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    made = Store(connect(path))
    yield made
    made.close()


def fill(store: Store, *numbers: int, at: float | None = 1.79e9) -> None:
    for number in numbers:
        store.commit([Entry([weighed(number)])], at)


def sequences(store: Store) -> list[int]:
    return [seq for (seq,) in store.rows("select seq from event order by seq")]


def test_what_is_written_is_numbered_spelled_and_found_by_its_columns(store: Store) -> None:
    first, second = store.commit([Entry([link_state(1), weighed(4)]), Entry([weighed(5)])], 1.79e9 + 0.25)
    assert [one.sequence for one in first] == [1, 2]
    assert [one.sequence for one in second] == [3]
    assert store.last == store.readable_last() == 3
    assert read_event(first[1].body) == first[1].event
    assert first[1].event.sequence == "0000000002"
    data: Any = weighed(4).data
    columns = "seq, type, at, weighing, revision, tag, began, body, sum"
    assert store.rows(f"select {columns} from event where seq < 3 order by seq") == [
        (1, "neckyoke.link", 1790000000250, None, None, None, None, first[0].body, total_of(first[0].body)),
        (
            *(2, "neckyoke.weighing", 1790000000250, data.weighing, 1, data.tag.id, "2026-11-24T02:15:00.000Z"),
            *(first[1].body, total_of(first[1].body)),
        ),
    ]
    assert store.kept("link") == {"panel": first[0].body}


def test_where_the_clock_is_not_known_no_moment_is_kept(store: Store) -> None:
    fill(store, 1, at=None)
    assert store.rows("select at from event") == [(None,)]


def test_a_revision_that_is_there_already_is_left_out_and_takes_no_number(store: Store) -> None:
    fill(store, 1)
    again, more = store.commit([Entry([weighed(1, kg=9.0)]), Entry([weighed(1, revision=2), weighed(2)])], None)
    assert again == []
    assert [one.sequence for one in more] == [2, 3]


def test_all_of_a_transaction_or_nothing(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    fill(store, 1)

    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(store, "keep", full)
        with pytest.raises(sqlite3.OperationalError):
            store.commit([Entry([weighed(2)], values={"a": "b"})], None)
    assert sequences(store) == [1]
    assert store.last == 1
    fill(store, 3)
    assert sequences(store) == [1, 2]


def test_values_stays_and_positions_are_kept_by_name_and_taken_out(store: Store) -> None:
    store.commit([Entry(open_stays={"crush": "{}"}, values={"a": "1", "b": "2"}, positions={"farm": 7})], None)
    assert (store.kept("open-stay"), store.kept("value"), store.kept("position")) == (
        *({"crush": "{}"}, {"a": "1", "b": "2"}, {"farm": "7"}),
    )
    assert store.rows("select sum from kept where name = 'a'") == [(total_of("value", "a", "1"),)]
    store.commit([Entry(open_stays={"crush": None}, values={"a": None, "b": "3"})], None)
    assert (store.kept("open-stay"), store.kept("value")) == ({}, {"b": "3"})


def test_the_latest_state_of_each_link_is_kept(store: Store) -> None:
    store.commit([Entry([link_state(1), link_state(2, "lost"), link_state(3, "up", "race")])], None)
    said = {name: read_event(body).data.model_dump()["state"] for name, body in store.kept("link").items()}
    assert said == {"panel": "lost", "race": "up"}


def test_what_was_found_is_put_back_once(store: Store, tmp_path: Path) -> None:
    fill(store, 1)
    body = store.rows("select body from event")[0][0]
    other = Store(connect(tmp_path / "other.db"))
    assert other.restore(Found(1, 5000, body, total_of(body))) == 1
    assert other.restore(Found(1, 5000, body, total_of(body))) == 0
    assert other.last == 1
    assert other.rows("select at, weighing is not null, revision from event") == [(5000, 1, 1)]
    fill(other, 2)
    assert other.restore(Found(1, None, body, None)) == 0
    assert other.last == 2
    other.close()


def test_sequences_go_on_above_a_base_also_after_reopening(path: Path) -> None:
    store = Store(connect(path), base=100)
    fill(store, 1)
    store.go_on_above(500)
    store.go_on_above(300)
    store.close()
    again = Store(connect(path))
    assert (again.last, again.first) == (101, 1)
    fill(again, 2)
    assert sequences(again) == [101, 501]
    again.close()


def test_a_file_that_is_not_as_it_was_made_is_damaged_and_a_later_one_left_alone(path: Path) -> None:
    Store(connect(path)).close()
    with sqlite3.connect(path) as plain:
        plain.execute("drop index event_tag")
    plain.close()
    with contextlib.closing(connect(path)) as left, pytest.raises(DamagedError, match="its schema is not"):
        Store(left)
    path.unlink()
    Store(connect(path)).close()
    with sqlite3.connect(path) as plain:
        plain.execute("pragma user_version = 9")
    plain.close()
    with contextlib.closing(connect(path)) as left, pytest.raises(DamagedError, match="its version is not"):
        Store(left)
    with sqlite3.connect(path) as plain:
        plain.execute("delete from kept where kind = 'base' and name = 'schema'")
    plain.close()
    with contextlib.closing(connect(path)) as left, pytest.raises(StoreError, match=r"a later neckyoke \(schema 9\)"):
        Store(left)


@pytest.mark.parametrize(
    ("code", "so"),
    [
        (sqlite3.SQLITE_CORRUPT, True),
        (267, True),
        (sqlite3.SQLITE_NOTADB, True),
        (sqlite3.SQLITE_FULL, False),
        (None, False),
    ],
)
def test_only_what_is_wrong_with_the_file_itself_is_damage(code: int | None, so: bool) -> None:  # noqa: FBT001
    error = sqlite3.DatabaseError("x")
    if code is not None:
        error.sqlite_errorcode = code  # 267: SQLITE_CORRUPT_VTAB, an extended code of SQLITE_CORRUPT
    assert damaged(error) is so
    assert damaged(UnicodeDecodeError("utf-8", b"\xff", 0, 1, "x"))
    assert not damaged(OSError())


# -- retention


def test_what_is_too_old_goes_up_to_what_every_outlet_has_taken(store: Store) -> None:
    for number in range(1, 9):
        fill(store, number, at=1000.0 * number)
    assert store.prune(floor=3, before=6500.0, keep_bytes=10**9) == 3
    assert (sequences(store), store.first) == ([4, 5, 6, 7, 8], 4)
    assert store.kept("base")["first"] == "4"
    assert store.prune(floor=99, before=6500.0, keep_bytes=10**9) == 3
    assert store.prune(floor=99, before=6500.0, keep_bytes=10**9) == 0
    assert store.prune(floor=99, before=None, keep_bytes=10**9) == 0
    assert store.prune(floor=99, before=1e9, keep_bytes=10**9) == 1
    assert sequences(store) == [8], "the last always stays"
    assert store.prune(floor=99, before=1e9, keep_bytes=0) == 0


def test_what_was_written_without_a_clock_goes_with_the_first_that_had_one(store: Store) -> None:
    for number, at in enumerate((None, None, 1000.0, None, 9000.0, None), 1):
        fill(store, number, at=at)
    assert store.prune(floor=99, before=5000.0, keep_bytes=10**9) == 3
    assert sequences(store) == [4, 5, 6]


def test_beyond_its_size_a_tenth_of_a_step_goes(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store_module, "CHUNK", 20)
    fill(store, *range(1, 42))
    assert store.prune(floor=99, before=None, keep_bytes=store.size()) == 0
    assert store.prune(floor=99, before=None, keep_bytes=0) == 3  # the third of twenty, and those before it
    assert sequences(store)[0] == 4


def test_what_was_known_to_be_missing_is_forgotten_with_what_was_before_it(store: Store) -> None:
    fill(store, *range(1, 9))
    store.rows("delete from event where seq in (2, 3, 6)")
    remember_missing(store, [range(2, 4), range(6, 7)])
    assert store.kept("gap") == {"2": "3", "6": "6"}
    assert store.prune(floor=4, before=1e12, keep_bytes=10**9) == 2
    assert store.kept("gap") == {"6": "6"}
    assert missing(store, Given()) == []


# -- what is missing, and what is damaged


@pytest.mark.parametrize(
    ("gone", "given", "expected"),
    [
        ((), Given(), []),
        ((), Given(8, 1), []),
        ((), Given(11, 1), [range(9, 12)]),
        ((3,), Given(), [range(3, 4)]),
        ((3, 4, 7), Given(8, 1), [range(3, 5), range(7, 8)]),
        ((1, 2), Given(), [range(1, 3)]),  # it began with the first
        ((8,), Given(), []),  # nobody knows that it was there,
        ((8,), Given(8, 1), [range(8, 9)]),  # unless the mark does
    ],
)
def test_what_lacks_between_the_first_and_the_last_is_missing(
    store: Store, gone: tuple[int, ...], given: Given, expected: list[range]
) -> None:
    fill(store, *range(1, 9))
    for seq in gone:
        store.rows("delete from event where seq = ?", seq)
    assert missing(store, given) == expected
    remember_missing(store, expected)
    assert missing(store, given) == [], "what is known is not told again"


def test_a_row_that_disagrees_with_itself_is_set_aside(store: Store) -> None:
    fill(store, *range(1, 6))
    store.rows("update event set body = replace(body, '318.5', '398.5') where seq = 3")
    body = store.rows("select body from event where seq = 3")[0][0]
    assert look_through(store, 99) == (0, 0)
    assert store.unsound == {3}
    store.unsound_kept.add(("value", "a"))
    store.keep("value", {"a": "b"})
    assert store.set_aside() == ([3], [("value", "a")])
    assert store.rows("select what, body from aside order by id") == [("event 3", body.encode()), ("kept value", b"b")]
    assert sequences(store) == [1, 2, 4, 5]
    assert (store.kept("gap"), store.kept("value"), store.unsound, store.unsound_kept) == ({"3": "3"}, {}, set(), set())


def test_rows_are_looked_at_newest_first_a_step_at_a_time(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("neckyoke.bridge.journal.checkup.STEP", 3)
    fill(store, *range(1, 9))
    store.rows("update event set sum = null where seq in (2, 7)")
    store.rows("update event set tag = 'x' where seq = 5")
    assert look_through(store, 9) == (6, 0)
    assert look_through(store, 6) == (3, 1)
    assert look_through(store, 3) == (0, 0)
    assert store.rows("select count(*) from event where sum is null or tag = 'x'") == [(0,)]


@pytest.mark.parametrize("index", INDEXES)
def test_an_index_that_lacks_its_rows_is_made_anew(path: Path, index: str) -> None:
    """Its page is as it was when nothing was in it, as after a write that a card lost: its structure is sound."""
    with contextlib.closing(Store(connect(path))) as store:
        fill(store, *range(1, 6))
        (root,) = store.rows("select rootpage from sqlite_master where name = ?", index)[0]
    with path.open("r+b") as file:  # an index's leaf without cells, all of it free: "Database File Format", 1.6
        file.seek((root - 1) * PAGE)
        file.write(struct.pack(">BHHHB", LEAF_INDEX, 0, 0, PAGE, 0))
    with contextlib.closing(Store(connect(path))) as store:
        found = f"select count(*) from event indexed by {index} where {index.removeprefix('event_')} is not null"
        assert store.check() is None
        assert store.rows(found) == [(0,)]
        assert look_through(store, 99) == (0, 1)
        assert store.rows(found) == [(5,)]
        assert look_through(store, 99) == (0, 0)


def test_rows_that_were_set_aside_are_told_in_words(tmp_path: Path) -> None:
    text = told_aside(tmp_path, [3, 4, 9], [("value", str(n)) for n in range(6)], 12)
    assert "3 events are damaged and given to nobody (3 to 4, 9); what was remembered cannot be read: " in text
    assert "value 0, value 1, value 2, value 3, value 4 and more. In all 12 were set aside." in text
    only = told_aside(tmp_path, [], [("value", "a")], 1)
    assert "events" not in only.partition(": ")[2]
    assert "cannot be read: value a. In all 1" in only


def test_a_clock_is_believed_from_the_third_day_on_that_it_says(store: Store) -> None:
    wall = 20_000.0 * DAY_S + 5
    assert [is_believed(store, wall + n * DAY_S, 0.0) for n in (0, 0, 1, 2, 3)] == [False, False, False, True, True]
    assert not is_believed(store, wall + 4000 * DAY_S, 0.0), "it leapt"


@pytest.mark.parametrize(
    ("day", "believed"), [(-368, False), (-367, True), (-2, True), (1, True), (2, False)]
)  # before and after today: of the last year, and of two days to come, as clocks are put right
def test_a_day_counts_for_a_year(store: Store, day: int, *, believed: bool) -> None:
    store.keep("base", {"days": f"{20_000 + day} 19999"})
    assert is_believed(store, 20_000.0 * DAY_S, 0.0) is believed


def test_days_that_are_in_the_journal_already_count(store: Store) -> None:
    wall = 20_000.0 * DAY_S + 5
    for n in (3, 2):
        fill(store, n, at=wall - n * DAY_S)
    assert is_believed(store, wall, 0.0)
