"""Who is expected under a sheet, and what each weighed last: by worked cases of roster, herd book and journal."""

import asyncio
from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.events import Event, Flag, Gain
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.job.load import Job
from neckyoke.bridge.job.making.foreseen import Beast
from neckyoke.bridge.job.making.who_comes import WhoComes
from neckyoke.bridge.job.roster.roster import Animal as Row
from neckyoke.bridge.job.roster.roster import Roster
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.journal.store import Entry, Store, connect
from tests.support.events import weighed

ZONE = ZoneInfo("Pacific/Auckland")
"""There the steers of 24 November, 02:11 UTC, are weighed in the afternoon, and those of 13:00 UTC on the 25th."""
T1, T2, T3, T4 = (f"99900000000000{n}" for n in (1, 2, 3, 4))
UNTAGGED = "999000000000000"
SHEET = Sheet.model_validate(
    {"title": "Spring draft", "mob": "heifers", "details": {"breed": "cross", "sex": "heifer"}}
)


def beast(
    tag: str, kg: float = 318.5, *, days: float = 0.0, animal: str | None = None, grade: str = "good", **more: Any
) -> Event:
    """Make a weighing of a tag so many days after the first."""
    event = weighed(1, tag=tag, kg=kg, run=f"{tag}/{days}/{kg}")
    on = event.data.model_dump()["on"] + timedelta(days=days)
    weight = event.data.model_dump()["weight"] | {"grade": grade}
    data = event.data.model_dump() | {"on": on, "weight": weight, "animal": {"id": animal} if animal else None} | more
    data["tag"] = data["tag"] if data["tag"]["id"] != UNTAGGED else None
    return event.model_copy(update={"data": type(event.data).model_validate(data)})


def expected(
    folder: Path, written: Iterable[Event], rows: Iterable[Row] | None, known: Iterable[Animal] = ()
) -> list[Beast] | None:
    store = Store(connect(folder / "journal.db"))
    store.commit([Entry([*written])], None)
    store.close()
    book = Book()
    for one in known:
        book.fold(one)
    roster = None if rows is None else Roster(rows)
    found = asyncio.run(WhoComes(folder / "journal.db", book, ZONE)(Job(SHEET, roster, ())))
    return None if found is None else [*found]


def worn(name: str, *tags: str, **said: Any) -> Animal:
    return Animal(animal=name, tags=tuple(WornTag(id=tag) for tag in tags), **said)


def last(found: list[Beast] | None) -> list[tuple[float | None, date | None]]:
    assert found is not None
    return [(one.kg, one.day) for one in found]


DAY = date(2026, 11, 24)


@pytest.mark.parametrize(
    ("written", "row", "kg", "day"),
    [
        ([], Row(2, T1), None, None),
        ([], Row(2, T1, weights=((date(2026, 9, 1), 280.0), (date(2026, 10, 1), 300.0))), 300.0, date(2026, 10, 1)),
        ([beast(T1)], Row(2, T1), 318.5, DAY),
        ([beast(T1), beast(T1, 330.0, days=9)], Row(2, T1), 330.0, date(2026, 12, 3)),
        ([beast(T1, 330.0, days=9), beast(T1)], Row(2, T1), 330.0, date(2026, 12, 3)),  # by when it stood there
        ([beast(T1, days=0.5)], Row(2, T1), 318.5, date(2026, 11, 25)),  # 14:11 UTC: the farm's next day
        ([beast(T2)], Row(2, T1), None, None),
        ([beast(T2)], Row(2, T1, former_tags=(T2,)), 318.5, DAY),
        ([beast(T1, grade="fair")], Row(2, T1), 318.5, DAY),
        ([beast(T1, grade="poor")], Row(2, T1), None, None),
        ([beast(T1), beast(T1, 700.0, days=9, flags=(Flag.VOIDED,))], Row(2, T1), 318.5, DAY),
        ([beast(T1), beast(T1, 700.0, days=9, flags=(Flag.PAUSED,))], Row(2, T1), 318.5, DAY),
        ([beast(T1)], Row(2, T1, weights=((date(2026, 12, 1), 340.0),)), 340.0, date(2026, 12, 1)),  # the later
        ([beast(T1)], Row(2, T1, weights=((DAY, 340.0),)), 318.5, DAY),  # of one day, what was weighed here
        ([beast(T1)], Row(2, visual="47"), None, None),
    ],
)
def test_the_last_weight_of_a_roster_row_is_the_latest_that_is_sure(
    tmp_path: Path, written: list[Event], row: Row, kg: float | None, day: date | None
) -> None:
    assert last(expected(tmp_path, written, [row])) == [(kg, day)]


@pytest.mark.parametrize(
    ("row", "known", "kg"),
    [
        (Row(2, T1), [worn("a", T2, T1)], 318.5),  # it wore another tag then
        (Row(2, visual="47"), [worn("a", T2, visuals=("47",))], 318.5),
        (Row(2, visual="47"), [worn("a", T2, visuals=("47",)), worn("b", T3, visuals=("47",))], None),  # which one?
        (Row(2, T1), [worn("a", T1), worn("b", T2, merged_into="a")], 318.5),
        (Row(2, T1), [worn("a", T1), worn("b", T2)], None),
        (Row(2, T4), [worn("a", T2)], None),
    ],
)
def test_the_herd_book_knows_by_what_else_a_row_was_weighed(
    tmp_path: Path, row: Row, known: list[Animal], kg: float | None
) -> None:
    assert last(expected(tmp_path, [beast(T2)], [row], known)) == [(kg, kg and DAY)]


def test_an_animal_that_was_weighed_without_a_tag_is_found_by_its_name(tmp_path: Path) -> None:
    written = [beast(UNTAGGED, animal="b"), beast(UNTAGGED, 300.0, days=-9, animal="a")]
    known = [worn("a", T1), worn("b", visuals=("9",), merged_into="a")]
    assert last(expected(tmp_path, written, [Row(2, T1)], known)) == [(318.5, DAY)]


def test_without_a_roster_the_mob_comes_and_where_there_is_none_nobody_knows(tmp_path: Path) -> None:
    known = [
        worn("a", T1, mob="heifers"),
        worn("b", T2, mob="steers"),
        worn("c", T3, mob="heifers"),
        worn("d", T4, mob="heifers", merged_into="c"),
    ]
    found = expected(tmp_path, [beast(T1), beast(T4, 300.0)], None, known)
    assert found is not None
    assert {one.key: one.kg for one in found} == {"a": 318.5, "c": 300.0}
    assert expected(tmp_path, [], None, known[1:2]) is None
    assert expected(tmp_path, [], []) == [], "a roster without animals expects none"


def test_what_pens_may_ask_for_is_the_rows_word_before_the_books_before_the_sheets(tmp_path: Path) -> None:
    rows = [Row(2, T1, sex="bull", other={"block": "east"}), Row(3, T2)]
    known = [worn("a", T1, sex="steer", born="2026-01-02", lasting={"breed": "red"}), worn("b", T2)]
    gain = Gain(kg=40.0, days=50, since="2026-10-05", kg_per_day=0.8)
    found = expected(tmp_path, [beast(T1, gain=gain), beast(T2)], rows, known)
    assert found is not None
    assert [dict(one.known) for one in found] == [
        {"breed": "red", "sex": "bull", "born": "2026-01-02", "tag": T1, "block": "east"},
        {"breed": "cross", "sex": "heifer", "tag": T2},
    ]
    assert [(one.key, one.gain) for one in found] == [(T1, 0.8), (T2, None)]


def test_a_gain_goes_with_the_weight_that_it_was_made_to(tmp_path: Path) -> None:
    gain = Gain(kg=40.0, days=50, since="2026-10-05", kg_per_day=0.8)
    rows = [Row(2, T1, weights=((date(2026, 12, 1), 340.0),))]
    (one,) = expected(tmp_path, [beast(T1, gain=gain)], rows) or []
    assert (one.kg, one.gain) == (340.0, None)


def test_while_there_is_no_journal_the_rosters_weights_count(tmp_path: Path) -> None:
    roster = Roster([Row(2, T1, weights=((DAY, 300.0),))])
    who = WhoComes(tmp_path / "none.db", Book(), ZONE)
    assert last([*(asyncio.run(who(Job(SHEET, roster, ()))) or [])]) == [(300.0, DAY)]
