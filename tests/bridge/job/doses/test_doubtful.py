"""A dose that was hardly on show, or that was by another weight than the last, is in doubt until a person speaks."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.events import DoseSaid, Flag, Weighing, wrap
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.sheet import load_sheet
from tests.support import events
from tests.support.sheets import one

SHEET = """
title = "Drench"
[[treatments]]
name = "drench"
ml_per_kg = 0.1
withhold_days = 28
[[treatments]]
name = "vaccine"
ml = 2
withhold_days = 0
"""


@pytest.fixture
def clerk(tmp_path: Path) -> Clerk:
    path = tmp_path / "sheet.toml"
    path.write_text(SHEET)
    return Clerk(one(load_sheet(path), None))


def _told(clerk: Clerk, shown_s: float = 5.0, first_kg: float | None = 318.5, **more: Any) -> Weighing:
    made = events.weighing(1)
    assert made.settled is not None
    weight = made.weight.model_copy(update={"first_kg": first_kg, "grade": more.pop("grade", "good")})
    off = made.settled + timedelta(seconds=shown_s)
    told = clerk.fill(_event(made.model_copy(update={"weight": weight, "off": off, **more}))).data
    assert isinstance(told, Weighing)
    return told


def _event(data: Weighing) -> Any:
    return wrap(data, site=events.SITE, time=data.off, key=f"1/{data.revision}")


def _doubtful(data: Weighing) -> bool:
    return Flag.DOSE_DOUBTFUL in data.flags


@pytest.mark.parametrize(("shown_s", "doubtful"), [(0.0, True), (0.6, True), (1.9, True), (2.0, False), (9.0, False)])
def test_shown_briefly_both_count_and_both_are_asked_about(clerk: Clerk, shown_s: float, *, doubtful: bool) -> None:
    told = _told(clerk, shown_s)
    remark = f"it was on show for {shown_s:.1f} s: if it was not given, say so"
    assert [(one.skipped, one.remark) for one in told.treatments] == 2 * [(False, remark if doubtful else None)]
    assert told.treatments[0].withheld_until == "2026-12-23", "it may have been given"
    assert _doubtful(told) == doubtful


@pytest.mark.parametrize(
    ("first_kg", "grade", "doubtful"),
    [
        (160.0, "good", True),  # half on
        (480.0, "fair", True),  # one and a half
        (289.0, "good", True),  # 318.5 / 289 = 1.102
        (290.0, "good", False),
        (350.0, "good", False),
        (351.0, "good", True),  # 351 / 318.5 = 1.102
        (160.0, "poor", False),  # a poor last weight tells nothing of the first
        (None, "good", False),
    ],
)
def test_another_weight_than_the_first_is_another_dose(
    clerk: Clerk, first_kg: float | None, grade: str, *, doubtful: bool
) -> None:
    told = _told(clerk, first_kg=first_kg, grade=grade)
    drench, vaccine = told.treatments
    assert drench.amount == pytest.approx((first_kg or 318.5) * 0.1), "what was given is what was shown"
    asked = f"by {first_kg:g} kg, shown first; by 318.5 kg it is 31.85 mL: see the label" if first_kg else ""
    assert (bool(asked) and asked in (drench.remark or "")) == doubtful
    assert "by" not in (vaccine.remark or ""), "two mL by any weight"
    assert _doubtful(told) == doubtful


@pytest.mark.parametrize(
    "rule", ["ml = 12", "ml_per_kg = 0.1\nat_most_ml = 15", "ml_per_kg = 0.1\ndose_to_heaviest = true"]
)
def test_one_that_is_the_same_by_both_is_in_no_doubt(tmp_path: Path, rule: str) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text(f'title = "Drench"\n[[treatments]]\nname = "drench"\nwithhold_days = 28\n{rule}\n')
    assert not _doubtful(_told(Clerk(one(load_sheet(path), None)), first_kg=160.0))


SAID: dict[str, tuple[dict[str, Any], bool]] = {
    "given": ({"given": True}, False),
    "not given": ({"given": False}, False),
    "another amount": ({"amount": 20.0}, False),
    "another batch": ({"batch": "B7"}, True),
}


@pytest.mark.parametrize("long_ago", [False, True])
@pytest.mark.parametrize("name", SAID)
def test_a_persons_word_on_each_takes_the_doubt_away(clerk: Clerk, name: str, *, long_ago: bool) -> None:
    word, still = SAID[name]
    first = _told(clerk, 0.6)
    for names, doubtful in ((("drench",), True), (("drench", "vaccine"), still)):
        said = tuple(DoseSaid(name=each, **word) for each in names)
        if long_ago:
            told = clerk.afterwards(
                _event(first.model_copy(update={"doses_said": said, "revision": 2})), other=False
            ).data
            assert isinstance(told, Weighing)
        else:
            told = _told(clerk, 0.6, doses_said=said)
        assert _doubtful(told) == doubtful, names


@pytest.mark.parametrize("doses", [("drench",), ("drench", "vaccine")])
def test_where_the_sheet_is_gone_the_doubt_stands_until_all_is_said(clerk: Clerk, doses: tuple[str, ...]) -> None:
    first = _told(clerk, 0.6)
    said = tuple(DoseSaid(name=each, given=True) for each in doses)
    event = _event(first.model_copy(update={"doses_said": said, "revision": 2}))
    told = Clerk(one(None, None)).afterwards(event, other=False).data
    assert isinstance(told, Weighing)
    assert _doubtful(told) == (len(doses) == 1)


def test_what_was_given_to_nobody_is_in_no_doubt(clerk: Clerk) -> None:
    assert not _doubtful(_told(clerk, 0.6, flags=(Flag.PAUSED,))), "it counts nowhere"
    assert not _doubtful(_told(clerk, 0.6, flags=(Flag.VOIDED,), none_given=True))
    gone = _told(clerk, 0.6, settled=None)
    assert (_doubtful(gone), Flag.NOT_GIVEN in gone.flags) == (False, True)
