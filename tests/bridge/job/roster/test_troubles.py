"""What is wrong in a table, told a sentence a kind."""

from pathlib import Path

import pytest

from neckyoke.bridge.job.roster.cell_error import CellError
from neckyoke.bridge.job.roster.troubles import Trouble, Troubles


def told(*found: tuple[int, str, str, str | None]) -> list[str]:
    troubles = Troubles(Path("r.csv"))
    for row, column, what, kind in found:
        troubles.say(row, column, what, f"Hint for {what}.", kind)
    return [str(one) for one in troubles.problems()]


def test_one_is_told_as_it_is() -> None:
    assert told((7, "tag", "'x' is no tag", "no tag")) == [
        "r.csv: row 7, column tag: 'x' is no tag.  Hint for 'x' is no tag."
    ]


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([3, 4], "rows 3, 4, column tag: 2 cells"),
        ([3, 4, 5, 6, 9], "rows 3, 4, 5, 6, 9, column tag: 5 cells"),
        ([3, 4, 5, 6, 9, 11], "rows 3, 4, 5, 6, 9 and 1 more, column tag: 6 cells"),
        ([3, 3, 3], "rows 3, column tag: 3 cells"),  # several in one cell
    ],
)
def test_of_many_of_a_kind_the_first_is_told_and_the_first_five_rows(rows: list[int], said: str) -> None:
    (only,) = told(*((row, "tag", f"{place}{row} is no tag", "no tag") for place, row in enumerate(rows)))
    assert only == f"r.csv: {said}, the first: 03 is no tag.  Hint for 03 is no tag."


def test_kinds_and_columns_are_told_apart_in_the_order_in_which_they_were_met() -> None:
    said = told(
        (2, "tag", "a", "no tag"),
        (3, "born", "b", "no tag"),
        (4, "tag", "c", "lost digits"),
        (5, "tag", "d", "no tag"),
        (6, "sex", "e", None),  # without a kind, what is wrong is the kind
        (7, "sex", "e", None),
        (8, "sex", "f", None),
    )
    assert [one.removeprefix("r.csv: ").partition("  ")[0] for one in said] == [
        "rows 2, 5, column tag: 2 cells, the first: a.",
        "row 3, column born: b.",
        "row 4, column tag: c.",
        "rows 6, 7, column sex: 2 cells, the first: e.",
        "row 8, column sex: f.",
    ]


def test_each_can_be_had_by_itself() -> None:
    troubles = Troubles(Path("r.csv"))
    troubles.say(2, "tag", "a", "h", "no tag")
    troubles.say(3, "sex", "b", "h")
    troubles.say(4, "tag", "c", "h", "no tag")
    assert [*troubles.each()] == [
        Trouble(2, "tag", "a", "h", "no tag"),
        Trouble(4, "tag", "c", "h", "no tag"),
        Trouble(3, "sex", "b", "h", "b"),
    ]


def test_a_cells_error_says_what_is_wrong_and_is_of_that_kind_unless_it_names_another() -> None:
    one, other = CellError("'x' is no tag"), CellError("'x' is no tag", "Look.", "no tag")
    assert (str(one), one.what, one.hint, one.kind) == ("'x' is no tag", "'x' is no tag", "", "'x' is no tag")
    assert (str(other), other.hint, other.kind) == ("'x' is no tag", "Look.", "no tag")
