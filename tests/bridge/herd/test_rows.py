"""A roster read into the herd book: it adds, fills gaps, tells what contradicts the book, and overwrites nothing."""

from datetime import date
from pathlib import Path

import pytest

from neckyoke.bridge.herd.rows import read_roster
from neckyoke.bridge.job.roster.roster import load_roster
from neckyoke.bridge.job.roster.troubles import Troubles
from tests.support.herd import MORNING, SITE, Farm, tag


@pytest.fixture
def farm() -> Farm:
    """A farm of 105, a steer; 106, without a tag; a nameless one; and a pair called 7."""
    farm = Farm()
    farm.weigh(0, tag(1), "105")
    farm.weigh(0, None, "106")
    farm.weigh(0, tag(3))
    farm.weigh(0, tag(8), "7")
    farm.weigh(0, tag(9))
    farm.ask(kind="name", tag=tag(9), visual="7")
    farm.ask(kind="reply", choice="another animal")
    farm.ask(kind="name", visual="105", was=tag(1), sex="steer")
    return farm


def read(farm: Farm, folder: Path, text: str) -> tuple[int, list[str]]:
    """Read a roster; return how many animals it changed or added, and what was told."""
    (folder / "roster.csv").write_text(text)
    troubles = Troubles(folder / "roster.csv")
    roster = load_roster(troubles.path, date(2026, 12, 1))
    events = list(read_roster(SITE, farm.keeper.book, roster, MORNING, troubles))
    return len(events), [str(doubt).split("roster.csv: ")[1] for doubt in troubles.problems()]


@pytest.mark.parametrize(
    ("row", "changed", "told"),
    [
        (f"{tag(1)},105,steer", 0, ""),
        (f"{tag(1)},,", 0, ""),
        (f"{tag(3)},107,heifer", 1, ""),
        (f"{tag(5)},108,", 1, ""),
        (",109,", 1, ""),
        (f"{tag(5)},106,", 1, ""),
        (f"{tag(5)},105,", 0, f"105 wears {tag(1)} here, and not {tag(5)}.  Is it the new tag?"),
        (f"{tag(1)},99,", 0, f"{tag(1)} is 105 here, and not 99.  Is it the new number?"),
        (f"{tag(3)},105,", 0, "105 is the number of 105 (tag …000001).  Are they one?"),
        (f"{tag(1)},105,heifer", 0, "105 (tag …000001) is steer here, and not heifer.  It stays as it is."),
        (f"{tag(5)},7,", 0, "7 is the number of 2 animals here.  Say which"),
    ],
)
def test_a_row_adds_fills_or_is_told(farm: Farm, tmp_path: Path, row: str, changed: int, told: str) -> None:
    before = farm.keeper.book.bodies()
    count, doubts = read(farm, tmp_path, f"tag,visual,sex\n{row}\n")

    assert count == changed
    assert [told in doubt for doubt in doubts] == [True] * bool(told)
    if told:
        assert farm.keeper.book.bodies() == before, "nothing is overwritten"
    assert read(farm, tmp_path, f"tag,visual,sex\n{row}\n")[0] == 0, "and read again it changes nothing"


def test_a_row_that_names_the_old_tag_as_former_is_a_retag(farm: Farm, tmp_path: Path) -> None:
    read(farm, tmp_path, f"tag,visual,former tags\n{tag(5)},105,{tag(1)}\n")
    (animal,) = farm.keeper.book.by_visual("105")

    assert [(one.id, one.until is None) for one in animal.tags] == [(tag(1), False), (tag(5), True)]


def test_a_former_tag_is_told_and_nothing_of_the_row_is_taken(farm: Farm, tmp_path: Path) -> None:
    farm.ask(kind="retag", visual="105", tag=tag(5))
    count, doubts = read(farm, tmp_path, f"tag,visual,sex\n{tag(1)},200,heifer\n")

    assert count == 0
    assert doubts == [
        f"row 2, column tag: {tag(1)} is a former tag of 105 (tag …000005).  Nothing of this row is taken."
    ]


def test_what_only_a_sheet_assumed_gives_way_to_a_row(farm: Farm, tmp_path: Path) -> None:
    (animal,) = farm.keeper.book.by_visual("106")
    guessed = animal.model_copy(update={"sex": "steer", "assumed": ("sex",), "revision": animal.revision + 1})
    farm.keeper.write([guessed], MORNING)
    assert read(farm, tmp_path, "visual,sex\n106,heifer\n") == (1, [])
    (animal,) = farm.keeper.book.by_visual("106")
    assert (animal.sex, animal.assumed) == ("heifer", ())


def test_until_when_a_roster_says_that_it_is_withheld_stays_known(farm: Farm, tmp_path: Path) -> None:
    read(farm, tmp_path, "visual,withheld_until\n105,2026-12-24\n")
    read(farm, tmp_path, "visual\n105\n")

    assert [flag.value for flag in farm.weigh(20, tag(1)).flags] == ["withheld"]
    assert farm.weigh(60, tag(1), kg=330.0).flags == ()
