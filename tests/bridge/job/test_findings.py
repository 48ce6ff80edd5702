"""Findings: what a sheet may ask for, and what a person may say."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from neckyoke.bridge.events import Finding
from neckyoke.bridge.job.findings import MOST_TOUCHES, FindingTable, finding_meant, findings


def finding(**given: Any) -> FindingTable:
    return FindingTable.model_validate({"name": "condition", **given})


FIVE = {"choices": [1, 2, 3, 4, 5]}
HEIGHT = {"number": {"from": 1, "to": 5, "step": 0.5, "unit": "cm"}}
COLOURS = {"choices": ["red", "Roan", "black and white"]}


@pytest.mark.parametrize(
    ("table", "said", "value"),
    [
        (FIVE, 3, 3),
        (FIVE, "3", 3),
        (FIVE, 3.0, 3),
        (COLOURS, " roan ", "Roan"),
        (HEIGHT, 2.5, 2.5),
        (HEIGHT, "2,5", 2.5),
        (HEIGHT, 5, 5),
        ({"yes_no": True}, "Yes", True),
        *(({"yes_no": True}, said, True) for said in ("y", "true", "1", 1)),
        *(({"yes_no": True}, said, False) for said in ("n", "false", "0", 0)),
        ({"choices": [True, False]}, "yes", True),
        ({"choices": [True, False]}, "No", False),
        ({"choices": [True, False]}, False, False),
        ({"yes_no": True}, False, False),
        ({"words": True}, " scar on the near hip ", "scar on the near hip"),
        ({**COLOURS, "several": True}, ["ROAN", "red"], ("red", "Roan")),
        ({**COLOURS, "several": True}, "red", ("red",)),
        ({**COLOURS, "several": True}, [], ()),
    ],
)
def test_values_are_read_as_people_give_them(table: dict[str, Any], said: Any, value: Any) -> None:
    assert finding(**table).read(said) == value
    assert type(finding(**table).read(said)) is type(value)


@pytest.mark.parametrize(
    ("table", "said", "why"),
    [
        (FIVE, 6, "6 is no choice of condition. Known: 1, 2, 3, 4, 5."),
        (COLOURS, "rone", "Known: Roan, black and white, red."),
        (HEIGHT, 2.25, "2.25 is not a number from 1 to 5 cm in steps of 0.5"),
        (HEIGHT, 5.5, "is not a number from 1 to 5 cm"),
        (HEIGHT, 0.5, "is not a number from 1 to 5 cm"),
        (HEIGHT, "NaN", "is not a number"),
        (HEIGHT, "thick", "is not a number"),
        (HEIGHT, True, "is not a number"),
        (FIVE, [1, 2], "takes one value"),
        (FIVE, (1, 2), "takes one value"),
        ({"yes_no": True}, "perhaps", "neither yes nor no"),
        ({"words": True}, "", "one line of at most 200"),
        ({"words": True}, "a\nb", "one line"),
        ({"words": True}, "x" * 201, "at most 200"),
    ],
)
def test_what_does_not_fit_is_refused_with_what_would(table: dict[str, Any], said: Any, why: str) -> None:
    with pytest.raises(ValueError, match=r".") as raised:
        finding(**table).read(said)
    assert why in str(raised.value)


@pytest.mark.parametrize(
    ("table", "why"),
    [
        ({}, "has none of choices, number, yes_no and words"),
        ({**FIVE, "yes_no": True}, "has choices and yes_no: take one of"),
        ({"yes_no": True, "several": True}, "several goes with choices"),
        ({"choices": ["red", "Red "]}, "two choices are the same"),
        ({"choices": []}, "at least 1"),
        ({"choices": list(range(25))}, "at most 24"),
        ({**FIVE, "usual": 6}, "usual: 6 is no choice"),
        ({"number": {"from": 5, "to": 1}}, "nothing lies from 5 to 1"),
        ({"number": {"from": 0, "to": 5000, "step": 1}}, "take a larger step"),
        ({**FIVE, "usal": 3}, "Extra inputs"),
    ],
)
def test_a_table_that_means_nothing_is_refused(table: dict[str, Any], why: str) -> None:
    with pytest.raises(ValidationError) as raised:
        finding(**table)
    assert why in str(raised.value)


@given(st.integers(0, 40))
def test_every_number_on_the_grid_is_read_and_comes_back(steps: int) -> None:
    made = finding(number={"from": -3, "to": 7, "step": 0.25})
    number = -3 + steps * 0.25
    assert made.read(number) == number
    assert made.read(str(number)) == number
    with pytest.raises(ValueError, match="is not a number"):
        made.read(number + 0.1)


def test_a_finding_is_named_as_its_column_is() -> None:
    tables = (finding(**FIVE), FindingTable(name="Near-hind foot", yes_no=True))
    assert finding_meant("near hind foot", tables) is tables[1]
    with pytest.raises(ValueError, match=r"no finding 'conditon' on this sheet\. Did you mean 'condition'"):
        finding_meant("conditon", tables)
    with pytest.raises(ValueError, match="The job sheet has no findings"):
        finding_meant("condition", ())


def test_what_a_person_gave_goes_before_the_roster_and_that_before_what_is_usual() -> None:
    lame = FindingTable(name="lame", yes_no=True, usual=False)
    tables = (finding(**FIVE, usual=3), FindingTable(name="pregnant", yes_no=True), lame)
    said = [Finding(name="condition", value=4, by="person"), Finding(name="lame", value=True, by="usual")]

    def spelled(*given: Any) -> list[tuple[str, Any, str]]:
        return [(one.name, one.value, one.by) for one in findings(tables, *given)]

    assert spelled((), None) == [("condition", 3, "usual"), ("lame", False, "usual")]
    assert spelled(said, {"pregnant": "yes", "condition": 2}) == [
        ("condition", 4, "person"),
        ("pregnant", True, "roster"),
        ("lame", False, "usual"),
    ]
    assert spelled((), {"condition": "fat"})[0] == ("condition", 3, "usual")


def test_what_a_person_gave_stands_though_the_sheet_knows_it_no_more() -> None:
    said = (Finding(name="teeth", value=2, by="person"),)
    assert findings((), said, None) == said


@pytest.mark.parametrize(
    ("table", "touches"),
    [
        (FIVE, (1, 2, 3, 4, 5)),
        ({"yes_no": True}, (True, False)),
        ({"words": True}, ()),
        ({"number": {"from": 1, "to": 3}}, (1, 2, 3)),
        ({"number": {"from": 1, "to": 2.5, "step": 0.5}}, (1, 1.5, 2, 2.5)),
        ({"number": {"from": -2, "to": 2, "step": 3}}, (-2, 1)),
        ({"number": {"from": 1, "to": 12}}, tuple(range(1, 13))),
        ({"number": {"from": 1, "to": 1000}}, ()),
    ],
)
def test_few_values_are_buttons(table: dict[str, Any], touches: tuple[Any, ...]) -> None:
    assert finding(**table).touches == touches


def test_as_many_buttons_as_fit_and_not_one_more() -> None:
    for most in (MOST_TOUCHES - 1, MOST_TOUCHES, MOST_TOUCHES + 1):
        assert len(finding(number={"from": 1, "to": most}).touches) == (most if most <= MOST_TOUCHES else 0)


@pytest.mark.parametrize(
    ("number", "said"),
    [
        ({"from": 1, "to": 5}, "9 is not a number from 1 to 5$"),
        ({"from": 1, "to": 5, "unit": "cm"}, "9 is not a number from 1 to 5 cm$"),
        ({"from": 1, "to": 5, "step": 0.5}, "9 is not a number from 1 to 5 in steps of 0.5$"),
    ],
)
def test_what_a_number_may_be_is_said_with_its_unit_and_steps(number: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        finding(number=number).read(9)


def test_a_finding_is_one_value_that_may_stay_unsaid_and_does_not_last_unless_the_sheet_says_so() -> None:
    made = finding(**FIVE)
    assert (made.several, made.needed, made.keep, made.usual_value) == (False, False, False, None)
    (said,) = findings([finding(**FIVE, usual=3)], (), None)
    assert (said.value, said.keep) == (3, False)
    (kept,) = findings([finding(**FIVE, keep=True)], (), {"condition": 4})
    assert (kept.value, kept.by, kept.keep) == (4, "kept", True)
