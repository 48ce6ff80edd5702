"""Where sheets lie and how they are written: each rule of the shelf by itself, on real files."""

import os
from pathlib import Path

import pytest

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job.kept import LARGEST, Given
from neckyoke.bridge.job.making import shelf as module
from neckyoke.bridge.job.making.shelf import Shelf, roster_named, slug

PLAIN = b'title = "Weaning"\n'
ROSTERED = PLAIN + b'roster = "weaning.csv"\n'
ROWS, OTHERS = b"tag,visual\n,47\n", b"tag,visual\n,48\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "state" / "sheets").mkdir(parents=True)
    return tmp_path


@pytest.fixture
def shelf(folder: Path) -> Shelf:
    links = {"indicator": {"url": "tcp://127.0.0.1:1"}}
    stations = {"crush": {"scale": "indicator"}}
    made = Config.model_validate({"site": "larkmoor", "state": "state", "links": links, "stations": stations})
    return Shelf(made.model_copy(update={"folder": folder}))


def own(folder: Path, name: str, content: bytes) -> Path:
    path = folder / "state" / "sheets" / name
    path.write_bytes(content)
    return path


def lies(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (folder / "state" / "sheets").iterdir()}


def refused(error: pytest.ExceptionInfo[ConfigError]) -> str:
    (problem,) = error.value.problems
    return f"{problem.what} {problem.hint}"


def test_the_boxs_own_come_first_and_no_more_than_a_page_takes(
    folder: Path, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "yards.toml").write_bytes(PLAIN)
    own(folder, "b.toml", PLAIN)
    own(folder, "a.toml", PLAIN)
    assert shelf.files() == ["sheets/a.toml", "sheets/b.toml", "yards.toml"]
    monkeypatch.setattr(module, "MOST_SHEETS", 2)
    assert shelf.files() == ["sheets/a.toml", "sheets/b.toml"]


@pytest.mark.parametrize(
    ("sheet", "there", "roster", "content"),
    [
        (PLAIN, {}, None, None),
        (ROSTERED, {}, "weaning.csv", None),
        (ROSTERED, {"weaning.csv": ROWS}, "weaning.csv", ROWS),
        (PLAIN + b'roster = "../../secret.csv"\n', {}, "../../secret.csv", None),
        (b"\xef\xbb\xbf" + ROSTERED, {"weaning.csv": ROWS}, "weaning.csv", ROWS),
    ],
)
def test_a_sheet_is_read_with_the_roster_that_lies_below_it(
    folder: Path, shelf: Shelf, sheet: bytes, there: dict[str, bytes], roster: str | None, content: bytes | None
) -> None:
    (folder / "secret.csv").write_bytes(ROWS)
    path = own(folder, "weaning.toml", sheet)
    for name, rows in there.items():
        own(folder, name, rows)
    found = shelf.read("sheets/weaning.toml")
    assert (found.file, found.path, found.roster) == ("sheets/weaning.toml", path, roster)
    assert found.given == Given(sheet, content, roster or "roster.csv")
    assert found.text == sheet.removeprefix(b"\xef\xbb\xbf").decode()


def test_what_is_not_on_the_list_is_not_read(folder: Path, shelf: Shelf) -> None:
    own(folder, "notes.toml", b"x = 1\n")
    for name in ("sheets/notes.toml", "sheets/gone.toml"):
        with pytest.raises(ConfigError) as error:
            shelf.read(name)
        assert refused(error) == "there is no such sheet any more Look at the list again."


@pytest.mark.parametrize(
    ("there", "title", "place"),
    [
        ((), "Weaning, north", "weaning-north"),
        (("weaning-north.toml",), "Weaning, north", "weaning-north-2"),
        (("weaning-north.csv",), "Weaning, north", "weaning-north-2"),
        (("weaning-north.xlsx", "weaning-north-2.toml"), "Weaning, north", "weaning-north-3"),
        ((), "", "sheet"),
    ],
)
def test_a_new_sheet_has_a_name_that_nothing_there_has(
    folder: Path, shelf: Shelf, there: tuple[str, ...], title: str, place: str
) -> None:
    for name in there:
        own(folder, name, b"")
    assert shelf.place_for(title) == f"sheets/{place}.toml"


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Weaning, north", "weaning-north"),
        ("Ä Größe 2", "a-groe-2"),
        ("--- ", "sheet"),
        ("x" * 60, "x" * 40),
        ("x" * 39 + " tail", "x" * 39),
        ("A_b.C", "a-b-c"),
    ],
)
def test_a_title_is_spelled_as_a_files_name(title: str, name: str) -> None:
    assert slug(title) == name


@pytest.mark.parametrize(
    ("there", "named", "place"),
    [
        ({}, "x.csv", "weaning.csv"),
        ({}, "x.XLSX", "weaning.xlsx"),
        ({}, "x.txt", "weaning.csv"),
        ({"weaning.csv": ROWS}, "x.csv", "weaning.csv"),
        ({"weaning.csv": OTHERS}, "x.csv", "weaning-2.csv"),
        ({"weaning.csv": OTHERS, "weaning-2.csv": OTHERS}, "x.csv", "weaning-3.csv"),
        ({"weaning.csv": OTHERS, "weaning-2.csv": ROWS}, "x.csv", "weaning-2.csv"),
    ],
)
def test_a_roster_lies_where_nothing_does_or_the_same(
    folder: Path, shelf: Shelf, there: dict[str, bytes], named: str, place: str
) -> None:
    for name, rows in there.items():
        own(folder, name, rows)
    assert shelf.roster_for("sheets/weaning.toml", Given(b"", ROWS, named)) == place


def test_a_roster_without_a_place_is_told(folder: Path, shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_SHEETS", 3)
    for name in ("weaning.csv", "weaning-2.csv"):
        own(folder, name, OTHERS)
    with pytest.raises(ConfigError) as error:
        shelf.roster_for("sheets/weaning.toml", Given(b"", ROWS, "x.csv"))
    assert "no place to lie Give the sheet another title." in refused(error)


def test_a_sheet_is_written_once_and_by_who_saw_it_as_it_is(folder: Path, shelf: Shelf) -> None:
    file, first = "sheets/weaning.toml", Given(ROSTERED, ROWS, "weaning.csv")
    assert shelf.write(file, first, None)
    assert lies(folder) == {"weaning.toml": ROSTERED, "weaning.csv": ROWS}
    assert not shelf.write(file, first, None), "it is there as it is to be"
    second = Given(ROSTERED + b'mob = "north"\n', ROWS, "weaning.csv")
    for was in (None, "0" * 12):
        with pytest.raises(ConfigError) as error:
            shelf.write(file, second, was)
        assert refused(error) == f"{module.CHANGED} {module.OPEN_AGAIN}"
    kept = (folder / "state/sheets/weaning.csv").stat()
    assert shelf.write(file, second, first.digest)
    assert lies(folder) == {"weaning.toml": second.sheet, "weaning.csv": ROWS}
    assert (folder / "state/sheets/weaning.csv").stat().st_ino == kept.st_ino, "what has not changed is left alone"
    third = Given(PLAIN, None)
    assert shelf.write(file, third, second.digest)
    assert lies(folder) == {"weaning.toml": PLAIN}, "nobody names its roster any more"


def test_a_roster_lost_by_hand_is_written_again_with_its_sheet(folder: Path, shelf: Shelf) -> None:
    file, first = "sheets/weaning.toml", Given(ROSTERED, ROWS, "weaning.csv")
    shelf.write(file, first, None)
    (folder / "state/sheets/weaning.csv").unlink()
    assert shelf.write(file, first, shelf.read(file).given.digest)
    assert lies(folder)["weaning.csv"] == ROWS


@pytest.mark.parametrize(
    ("content", "was", "told"),
    [
        (PLAIN + b"#" * LARGEST, None, "at most 1 MiB"),
        (PLAIN, "0" * 12, "is gone meanwhile"),
    ],
)
def test_a_new_sheet_that_is_too_large_or_was_there_is_refused(
    folder: Path, shelf: Shelf, content: bytes, was: str | None, told: str
) -> None:
    with pytest.raises(ConfigError) as error:
        shelf.write("sheets/weaning.toml", Given(content, None), was)
    assert told in refused(error)
    assert lies(folder) == {}
    at_most = PLAIN + b"#" * (LARGEST - len(PLAIN))
    assert shelf.write("sheets/weaning.toml", Given(at_most, None), None)


def test_what_lies_there_and_is_no_sheet_is_not_written_over(folder: Path, shelf: Shelf) -> None:
    path = own(folder, "weaning.toml", b"x = 1\n")
    with pytest.raises(ConfigError) as error:
        shelf.write("sheets/weaning.toml", Given(PLAIN, None), None)
    assert refused(error) == "is there, and no sheet Give the sheet another title."
    assert path.read_bytes() == b"x = 1\n"


def test_one_of_the_boxs_own_is_written_there_though_one_of_that_name_lies_beside(folder: Path, shelf: Shelf) -> None:
    (folder / "sheets").mkdir()
    (folder / "sheets" / "weaning.toml").write_bytes(PLAIN)
    assert shelf.write("sheets/weaning.toml", Given(ROSTERED, ROWS, "weaning.csv"), None)
    assert (folder / "sheets" / "weaning.toml").read_bytes() == PLAIN
    assert lies(folder)["weaning.toml"] == ROSTERED


def test_a_roster_goes_with_the_last_sheet_that_names_it(folder: Path, shelf: Shelf) -> None:
    for name in ("weaning.toml", "again.toml"):
        own(folder, name, ROSTERED)
    own(folder, "weaning.csv", ROWS)
    for name, left in (("weaning", {"again.toml", "weaning.csv"}), ("again", set[str]())):
        file = f"sheets/{name}.toml"
        was = shelf.read(file).given.digest
        with pytest.raises(ConfigError) as error:
            shelf.drop(file, "0" * 12)
        assert refused(error) == f"{module.CHANGED} {module.OPEN_AGAIN}"
        gone = shelf.drop(file, was)
        assert gone.given.roster == ROWS
        assert set(lies(folder)) == left


def test_a_sheet_whose_roster_is_gone_is_dropped_all_the_same(folder: Path, shelf: Shelf) -> None:
    own(folder, "weaning.toml", ROSTERED)
    shelf.drop("sheets/weaning.toml", shelf.read("sheets/weaning.toml").given.digest)
    assert lies(folder) == {}


def test_a_roster_elsewhere_is_nobodys_to_delete(folder: Path, shelf: Shelf) -> None:
    (folder / "state" / "sheets" / "rosters").mkdir()
    path = own(folder, "rosters/mine.csv", ROWS)
    own(folder, "weaning.toml", PLAIN + b'roster = "rosters/mine.csv"\n')
    (folder / "yards.toml").write_bytes(ROSTERED)
    (folder / "weaning.csv").write_bytes(ROWS)
    shelf.drop("sheets/weaning.toml", shelf.read("sheets/weaning.toml").given.digest)
    assert path.read_bytes() == ROWS
    assert shelf.write("yards.toml", Given(PLAIN, None), shelf.read("yards.toml").given.digest)
    assert (folder / "weaning.csv").read_bytes() == ROWS, "beside the configuration it is the person's own"
    with pytest.raises(ConfigError, match="Delete it there"):
        shelf.drop("yards.toml", shelf.read("yards.toml").given.digest)


def test_what_is_no_ordinary_file_of_a_sheets_size_is_no_roster(folder: Path, shelf: Shelf) -> None:
    own(folder, "weaning.toml", ROSTERED)
    os.mkfifo(folder / "state" / "sheets" / "weaning.csv")  # which would be waited for
    assert shelf.read("sheets/weaning.toml").given.roster is None
    (folder / "state" / "sheets" / "weaning.csv").unlink()
    for size, read in ((2 * LARGEST, True), (2 * LARGEST + 1, False)):
        own(folder, "weaning.csv", b"#" * size)
        assert (shelf.read("sheets/weaning.toml").given.roster is not None) is read


def test_a_sheet_whose_roster_did_not_come_keeps_the_one_that_lies_there(folder: Path, shelf: Shelf) -> None:
    own(folder, "weaning.csv", ROWS)
    assert shelf.write("sheets/weaning.toml", Given(ROSTERED, None), None)
    assert lies(folder)["weaning.csv"] == ROWS


@pytest.mark.parametrize(
    ("sheet", "named"),
    [
        (ROSTERED, "weaning.csv"),
        (b"\xef\xbb\xbf" + ROSTERED, "weaning.csv"),
        (PLAIN, None),
        (b'roster = ""', None),
        (b"roster = 3", None),
        (b"roster =", None),
        (b"\xff", None),
        (b"roster = " + b"[" * 100_000, None),
    ],
)
def test_the_roster_that_a_sheet_names(sheet: bytes, named: str | None) -> None:
    assert roster_named(sheet) == named
