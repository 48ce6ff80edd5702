"""A file that is not what it was: what is a journal, what is taken back from its pages, and what is not."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.journal import salvage
from neckyoke.bridge.journal.mark import UNKNOWN, Given
from neckyoke.bridge.journal.pages import Kept, Pages
from neckyoke.bridge.journal.rows import Found
from neckyoke.bridge.journal.salvage import open_store, rescue, set_aside
from neckyoke.bridge.journal.store import Entry, Store, connect
from tests.support.events import weighed

WALL = 1.79e9


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.db"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    made = Store(connect(path))
    made.commit([Entry([weighed(number)]) for number in range(1, 9)], WALL)
    yield made
    made.close()


def sequences(store: Store) -> list[int]:
    return [seq for (seq,) in store.rows("select seq from event order by seq")]


def wrote(at: int, data: bytes) -> Callable[[Path], None]:
    def write(path: Path) -> None:
        content = bytearray(path.read_bytes())
        content[at : at + len(data)] = data
        path.write_bytes(content)

    return write


@pytest.mark.parametrize(
    "damage",
    [
        wrote(0, b"\0"),
        wrote(15, b"!"),
        wrote(18, b"\3"),  # a write version that SQLite does not know: it would open it for reading only
        wrote(19, b"\3"),
        lambda path: path.write_bytes(path.read_bytes()[:40]),
    ],
    ids=["first byte", "last of its name", "write version", "read version", "cut off"],
)
def test_a_file_whose_header_is_no_databases_is_set_aside_whatever_sqlite_would_take_it_for(
    store: Store, path: Path, damage: Callable[[Path], None]
) -> None:
    store.close()
    damage(path)
    opened = open_store(path, WALL)
    assert opened.damage is not None
    assert "The journal was damaged (" in opened.damage
    whole = path.with_name("journal.db.damaged-1").stat().st_size > 40
    assert sequences(opened.store) == ([*range(1, 9)] if whole else [])
    opened.store.close()


def test_an_empty_file_is_a_journal_that_was_not_begun(path: Path) -> None:
    path.touch()
    opened = open_store(path, WALL)
    assert (opened.damage, opened.missing, opened.store.last) == (None, 0, 0)
    opened.store.close()
    assert not list(path.parent.glob("*.damaged*"))


def test_what_was_deleted_for_its_age_is_not_missing_from_a_damaged_file(store: Store, path: Path) -> None:
    """Only the file itself knows what was: of its first three the first had gone by itself."""
    store.keep("base", {"first": "2"})
    store.keep("value", {"memory/crush": "{}"})
    store.rows("delete from event where seq <= 3")
    store.close()
    fresh = Store(connect(path.with_name("fresh.db")))
    assert rescue(Pages(path, b""), fresh, UNKNOWN) == 5
    assert sequences(fresh) == [4, 5, 6, 7, 8]
    assert fresh.kept("base")["first"] == "2"
    assert fresh.kept("value") == {"memory/crush": "{}"}
    fresh.close()


def test_a_damaged_file_is_set_aside_with_its_log_at_the_first_free_name(path: Path) -> None:
    for number in (1, 2):
        path.write_text(f"file {number}")
        Path(f"{path}-wal").write_text(f"log {number}")
        Path(f"{path}-shm").write_text("its index is no other file's")
        aside = set_aside(path)
        assert aside == path.with_name(f"journal.db.damaged-{number}")
        assert (aside.read_text(), Path(f"{aside}-wal").read_text()) == (f"file {number}", f"log {number}")
        assert sorted(one.name for one in path.parent.glob("journal.db*") if "damaged" not in one.name) == []


def test_the_log_of_a_damaged_file_is_kept_as_it_was(store: Store, path: Path, tmp_path: Path) -> None:
    """Copied as a kill leaves it; its version flipped, so that SQLite opens it and folds the log in."""
    store.rows("pragma user_version = 77")
    killed = tmp_path / "killed" / "journal.db"
    killed.parent.mkdir()
    for end in ("", "-wal"):
        Path(f"{killed}{end}").write_bytes(Path(f"{path}{end}").read_bytes())
    log = Path(f"{killed}-wal").read_bytes()
    opened = open_store(killed, WALL)
    assert opened.damage is not None
    assert sequences(opened.store) == [*range(1, 9)]
    assert Path(f"{killed}.damaged-1-wal").read_bytes() == log
    opened.store.close()


def test_what_an_attempt_left_that_was_cut_off_is_not_taken_for_the_journals(store: Store, path: Path) -> None:
    left = Store(connect(path.with_name("journal.db.rescue")))
    left.commit([Entry([weighed(number)]) for number in range(30, 40)], WALL)
    left.close()
    store.close()
    wrote(0, b"\0")(path)
    opened = open_store(path, WALL)
    assert sequences(opened.store) == [*range(1, 9)]
    opened.store.close()


class Everything(Pages):
    """Pages on which whatever was once written can still be read."""

    found: tuple[Found, ...] = ()
    remembered: tuple[Kept, ...] = ()

    def events(self) -> Iterator[Found]:
        yield from self.found

    def kept(self) -> Iterator[Kept]:
        yield from self.remembered


@pytest.mark.parametrize(
    ("given", "value"),
    [
        (Given(8, 4), "as the file has it"),
        (Given(9, 4), "as the log had it"),  # the file ends before what was given: its log broke off
    ],
)
def test_of_what_is_found_beside_its_place_only_what_lacks_is_taken(
    store: Store, path: Path, monkeypatch: pytest.MonkeyPatch, given: Given, value: str
) -> None:
    rows = [Found(*row) for row in store.rows("select seq, at, body, sum from event")]
    monkeypatch.setattr(Everything, "found", tuple(row for row in rows if row.seq != 6))
    monkeypatch.setattr(Everything, "remembered", (Kept("value", "memory/crush", "as the log had it"),))
    monkeypatch.setattr(salvage, "Pages", Everything)
    store.keep("value", {"memory/crush": "as the file has it"})
    store.keep("base", {"first": "4"})
    store.rows("delete from event where seq in (1, 2, 3, 5, 6)")
    store.close()
    opened = open_store(path, WALL, given=given)
    assert opened.damage is not None
    assert "1 were found again beside their place" in opened.damage
    assert sequences(opened.store) == [4, 5, 7, 8], "the first three had gone by themselves"
    assert opened.missing == given.last - 7
    assert opened.store.kept("value") == {"memory/crush": value}
    (written,) = opened.store.commit([Entry([weighed(20)])], WALL)[0]
    assert written.sequence > WALL - 1, "no number of one that is gone is given again"
    opened.store.close()
    again = open_store(path, WALL, given=given)
    assert (again.damage, again.missing) == (None, 0), "what is known to be gone is not told again"
    again.store.close()
