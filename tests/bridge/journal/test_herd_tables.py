"""The herd book in the journal's file: always what its events say, told from them anew by a plain fold."""

import contextlib
import json
import sqlite3
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.animal_event import Animal
from neckyoke.bridge.events import Event, Flag, Treatment, wrap
from neckyoke.bridge.journal.rows import total_of
from neckyoke.bridge.journal.store import NEVER, Entry, Store
from tests.support.events import DAY, SITE, weighed

CLEAR = (None, "2026-12-01", "2026-12-24", "unknown")


def steer(name: str, revision: int, text: str = "known") -> Event:
    return wrap(Animal(animal=name, revision=revision, why=text), site=SITE, time=DAY, key=f"{name}/{revision}")


def dosed(number: int, revision: int = 1, *, meat: str | None = None, export: str | None = None, **said: Any) -> Event:
    """Make the event of a weighing with one dose: of the animal `id`, skipped or voided."""
    event = weighed(number, revision=revision)
    dose = Treatment(name="oral drench", withheld_until=meat, export_from=export, skipped=said.get("skipped", False))
    flags = (Flag.VOIDED,) if said.get("voided") else ()
    changed = {"treatments": (dose,), "animal": said.get("animal"), "flags": flags}
    return event.model_copy(update={"data": event.data.model_copy(update=changed)})


@contextlib.contextmanager
def in_memory() -> Iterator[Store]:
    store = Store(sqlite3.connect(":memory:", isolation_level=None))
    yield store
    store.close()


@pytest.fixture
def store() -> Iterator[Store]:
    with in_memory() as made:
        yield made


def take(store: Store, *events: Event) -> None:
    store.commit([Entry(events)], None)


def withheld(store: Store) -> dict[int, tuple[Any, ...]]:
    """Return the rows by the number of the weighing: animal, clear for meat, and until when it is kept."""
    numbers = {weighed(number).data.model_dump()["weighing"]: number for number in range(10)}
    rows = store.rows("select weighing, animal, meat, until from withheld")
    return {numbers[weighing]: tuple(row) for weighing, *row in rows}


@pytest.mark.parametrize(
    ("event", "kept"),
    [
        (dosed(1), None),
        (dosed(1, meat="2026-12-01"), (None, "2026-12-01", "2026-12-01")),
        (dosed(1, export="2026-12-24"), (None, None, "2026-12-24")),  # it may be sold here, but not abroad
        (dosed(1, meat="2026-12-01", export="2026-12-24"), (None, "2026-12-01", "2026-12-24")),
        (dosed(1, meat="unknown", export="2026-12-24"), (None, "unknown", "unknown")),
        (dosed(1, meat="2026-12-01", skipped=True), None),
        (dosed(1, meat="2026-12-01", voided=True), (None, "2026-12-01", "2026-12-01")),  # its dose was given
        (dosed(1, meat="2026-12-01", animal={"id": "a"}), ("a", "2026-12-01", "2026-12-01")),
        (dosed(1, meat="2026-12-01", animal={"id": "b", "known_as": "a"}), ("a", "2026-12-01", "2026-12-01")),
    ],
)
def test_a_weighing_is_withheld_for_as_long_as_its_longest_dose(
    store: Store, event: Event, kept: tuple[Any, ...] | None
) -> None:
    take(store, event)
    assert withheld(store) == ({} if kept is None else {1: kept})


def test_the_newest_revision_says_who_is_withheld(store: Store) -> None:
    take(store, dosed(1, meat="2026-12-01"), dosed(2, meat="2026-12-01"), dosed(3))
    take(store, dosed(1, 2), dosed(2, 2, meat="2026-12-24"), dosed(3, 2, meat="unknown"))
    assert {number: row[-1] for number, row in withheld(store).items()} == {2: "2026-12-24", 3: "unknown"}


@pytest.mark.parametrize(
    ("today", "kept"), [(NEVER, {1, 2, 3}), ("2026-11-30", {1, 2, 3}), ("2026-12-01", {2, 3}), ("2099-01-01", {3})]
)
def test_on_its_first_clear_date_it_is_let_go_and_the_unknown_never(store: Store, today: str, kept: set[int]) -> None:
    take(store, *(dosed(number, meat=clear) for number, clear in enumerate(CLEAR)))
    assert store.rebuild_herd(today) == 0, "what has passed by itself came out no otherwise"
    assert {*withheld(store)} == kept


said = st.lists(
    st.tuples(st.integers(0, 3), st.sampled_from(CLEAR), st.sampled_from(CLEAR), st.booleans(), st.booleans()),
    max_size=12,
)


@given(said, st.lists(st.integers(0, 2), max_size=6))
def test_the_tables_are_a_fold_of_the_events(
    doses: list[tuple[int, str | None, str | None, bool, bool]], animals: list[int]
) -> None:
    with in_memory() as store:
        newest: dict[int, tuple[Any, ...]] = {}
        revisions = dict.fromkeys(range(4), 0)
        for number, meat, export, skipped, voided in doses:
            revisions[number] += 1
            take(store, dosed(number, revisions[number], meat=meat, export=export, skipped=skipped, voided=voided))
            newest[number] = (None, None) if skipped else (meat, export)
        for at, animal in enumerate(animals):
            take(store, steer(f"a{animal}", 1 + animals[:at].count(animal), text=str(at)))
        assert {number: (row[1], row[2]) for number, row in withheld(store).items()} == {
            number: (meat, max(clear for clear in (meat, export) if clear))  # "unknown" is spelled after all dates
            for number, (meat, export) in newest.items()
            if meat or export
        }
        known = {json.loads(body)["data"]["animal"]: json.loads(body)["data"] for body in store.herd.animals()}
        assert {name: (data["revision"], data["why"]) for name, data in known.items()} == {
            f"a{animal}": (animals.count(animal), str(max(n for n, one in enumerate(animals) if one == animal)))
            for animal in animals
        }
        assert store.herd_agrees()
        assert store.rebuild_herd() == 0, "made anew it is the same"


@pytest.mark.parametrize(
    ("change", "rows"),
    [
        ("delete from animal where animal = 'a'", 1),
        ("update animal set revision = 3 where animal = 'a'", 1),
        ("update animal set body = replace(body, 'known', 'knowm')", 2),
        ("insert into animal values ('c', 1, '{}')", 1),
        ("update withheld set until = '2026-12-02', meat = '2026-12-02'", 2),
        ("update withheld set tag = null", 2),
        ("update withheld set animal = 'x' where meat = '2026-12-01'", 2),
        ("update withheld set revision = 9", 2),
        ("insert into withheld values ('nobody', 1, null, null, '2026-12-01', '2026-12-01')", 1),
    ],
)
def test_a_table_that_says_something_else_is_seen_and_made_anew(store: Store, change: str, rows: int) -> None:
    take(store, steer("a", 1), steer("b", 1), steer("a", 2), *(dosed(n, meat="2026-12-01") for n in (1, 2)))
    assert store.herd_agrees()
    store.rows(change)
    assert not store.herd_agrees()
    assert store.rebuild_herd() == rows
    assert store.herd_agrees()


def test_what_is_damaged_says_nothing_of_anybody(store: Store) -> None:
    take(store, steer("a", 1), steer("a", 2, "named"), dosed(1, meat="2026-12-01"), dosed(2, meat="2026-12-01"))
    store.rows("update event set body = replace(body, 'named', 'lamed')")
    assert not store.herd_agrees()
    store.rows("update event set body = replace(body, '2026-12-01', '2020-12-01') where seq = 4")
    assert store.rebuild_herd() == 2
    assert {*withheld(store)} == {1}
    assert [json.loads(body)["data"]["revision"] for body in store.herd.animals()] == [1]


def test_who_is_withheld_by_a_weighing_that_is_damaged_is_looked_at_again(store: Store) -> None:
    take(store, dosed(1, meat="2026-12-01"))
    body = store.rows("select body from event")[0][0].replace("2026-12-01", "2026-12-07")
    store.rows("update event set body = ?", body)
    assert not store.herd_agrees()
    store.rows("update event set sum = ?", total_of(body))
    assert not store.herd_agrees(), "it is sound, and says another date"
    assert store.rebuild_herd() == 1
    assert store.herd_agrees()


def test_what_says_of_animals_and_who_lacks_an_animal_is_listed_in_order(store: Store) -> None:
    known, merged = {"id": "a"}, {"id": "b", "known_as": "a"}
    take(store, dosed(5), dosed(1, animal=known), dosed(2, animal={"id": "z"}), dosed(3, animal=merged), dosed(4))
    take(store, dosed(4, 2), steer("a", 1), steer("a", 2))
    assert [json.loads(body)["data"]["revision"] for body in store.herd.events()] == [1, 2]

    def numbers(after: int) -> list[tuple[int, int]]:
        found = [one.data.model_dump() for one in store.herd.unadopted(after)]
        return [(data["number"], data["revision"]) for data in found]

    assert numbers(0) == [(2, 1), (4, 2), (5, 1)]  # it names nobody whom the book has, or nobody at all: by time
    assert numbers(1) == [(2, 1), (4, 2)], "of those that name nobody, what lies beyond"
    assert numbers(99) == [(2, 1)]
    assert sorted(row[0] for row in store.herd.withheld()) == []
    take(store, dosed(6, meat="2026-12-01", animal=known))
    data: Any = dosed(6).data
    assert store.herd.withheld() == [(data.weighing, 1, "a", data.tag.id, "2026-12-01")]


def test_retention_leaves_a_weighing_until_its_doses_have_passed(store: Store) -> None:
    take(store, steer("a", 1), dosed(1, meat="2026-12-01"), dosed(2, meat="unknown"), dosed(3), dosed(4))
    assert store.prune(floor=99, before=None, keep_bytes=0) == 1
    assert [seq for seq, _ in store.read(0, 9)] == [1, 2, 3, 5], "the last stays as well"
    assert store.prune(floor=99, before=None, keep_bytes=0, today="2026-11-30") == 0
    assert store.prune(floor=99, before=None, keep_bytes=0, today="2026-12-01") == 1
    assert [seq for seq, _ in store.read(0, 9)] == [1, 3, 5], "nobody knows when the other's has passed"
