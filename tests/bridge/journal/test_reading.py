"""What can be asked of a journal's file, told from the events that were written; what is damaged is in no answer."""

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.events import Event, Weighing, read_event, spell_time
from neckyoke.bridge.journal.reading import Reading, read_only
from neckyoke.bridge.journal.store import Entry, Store, connect
from tests.support.events import DAY, link_state, weighed, weighing

A, B = "999000000000001", "999000000000002"


def of(event: Event, station: str = "crush", animal: str | None = None) -> Event:
    data = event.data.model_copy(update={"station": station, "animal": {"id": animal} if animal else None})
    return event.model_copy(update={"data": data})


WRITTEN = [
    link_state(1),
    of(weighed(1, tag=A), animal="a"),
    of(weighed(2, tag=B), animal="b"),
    of(weighed(3, tag=A), station="race"),
    of(weighed(2, revision=2, tag=A), animal="a"),
    of(weighed(4, tag="999000000000004"), animal="d"),
    of(weighed(1, revision=2, tag=A, kg=320.0), animal="a"),
]
"""Numbers and revisions, in this order: 1/1, 2/1, 3/1, 2/2, 4/1, 1/2."""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    made = Store(connect(tmp_path / "journal.db"))
    made.commit([Entry([event]) for event in WRITTEN], None)
    yield made
    made.close()


def told(bodies: Iterable[str | None]) -> list[tuple[int, int]]:
    found = [read_event(body).data for body in bodies if body]
    return [(data.number, data.revision) for data in found if isinstance(data, Weighing)]


def damage(store: Store, seq: int) -> None:
    store.rows("update event set body = replace(body, 'larkmoor', 'larkmoon') where seq = ?", seq)


@pytest.mark.parametrize("at_once", [1, 2, 100])
def test_every_revision_is_read_in_the_order_of_writing(
    store: Store, monkeypatch: pytest.MonkeyPatch, at_once: int
) -> None:
    monkeypatch.setattr("neckyoke.bridge.journal.reading.REVISIONS", at_once)
    assert told(store.revisions()) == [(1, 1), (2, 1), (3, 1), (2, 2), (4, 1), (1, 2)]
    damage(store, 4)
    assert told(store.revisions()) == [(1, 1), (2, 1), (2, 2), (4, 1), (1, 2)]
    assert store.unsound == {4}


def test_of_each_weighing_the_latest_revision_is_read(store: Store) -> None:
    assert told(store.latest()) == [(3, 1), (2, 2), (4, 1), (1, 2)]
    damage(store, 7)
    assert told(store.latest()) == [(3, 1), (2, 2), (4, 1)]
    assert store.unsound == {7}
    assert told(store.latest()) == [(1, 1), (3, 1), (2, 2), (4, 1)], "known to be damaged, it hides nothing"


@pytest.mark.parametrize(
    ("ask", "found"),
    [
        (lambda store: store.weighings(), [1, 2, 3, 4]),  # by when they began
        (lambda store: store.weighings(tag=A), [1, 2, 3]),
        (lambda store: store.weighings(tag=B), []),  # that was corrected
        (lambda store: store.weighings(limit=2), [3, 4]),
        (lambda store: store.weighings(tag=A, limit=1), [3]),
        (lambda store: store.weighings(since=spell_time(weighing(2).on)), [2, 3, 4]),
        (lambda store: store.weighings(until=spell_time(weighing(2).on)), [1]),
        (lambda store: store.weighings(animals=["a"]), [1, 2]),
        (lambda store: store.weighings(animals=["a", "d"]), [1, 2, 4]),
        (lambda store: store.weighings(tags=[A]), [1, 2, 3]),
        (lambda store: store.weighings(animals=["d"], tags=[A]), [1, 2, 3, 4]),
        (lambda store: store.weighings(animals=["b"], tags=["999000000000009"]), []),
        (lambda store: store.weighings(animals=["a"], limit=1), [2]),
    ],
)
def test_weighings_are_found_by_tag_animal_and_time(
    store: Store, ask: Callable[[Reading], list[str]], found: list[int]
) -> None:
    assert [number for number, _ in told(ask(store))] == found


def test_the_last_weighing_of_each_station_is_read_in_its_newest_revision(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def last() -> dict[str, list[tuple[int, int]]]:
        return {station: told([body]) for station, body in store.last_weighings().items()}

    assert last() == {"crush": [(4, 1)], "race": [(3, 1)]}
    store.commit([Entry([of(weighed(3, revision=2, tag=A), station="race")])], None)
    assert last() == {"crush": [(4, 1)], "race": [(3, 2)]}
    monkeypatch.setattr("neckyoke.bridge.journal.reading.RECENT", 3)
    assert last() == {"crush": [(4, 1)]}, "the other's was too long ago"


def test_who_only_looks_sees_the_same_and_how_much_it_is(store: Store, tmp_path: Path) -> None:
    store.keep("value", {"a": "1", "b": "2"})
    store.rows("update kept set body = '3' where name = 'b'")
    with read_only(tmp_path / "journal.db") as reading:
        assert told(reading.latest()) == told(store.latest())
        assert reading.read(0, 99) == store.read(0, 99)
        assert reading.kept("value") == {"a": "1"}
        assert reading.unsound_kept == {("value", "b")}
        assert reading.check() is None
        pages, free = (reading.rows(f"pragma {name}")[0][0] for name in ("page_count", "freelist_count"))
        assert reading.size() == (pages - free) * 4096
    assert spell_time(DAY) < spell_time(weighing(1).on)
