"""A dose that was hardly on show, or that was by another weight than the last, is in doubt until a person speaks."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.events import DoseSaid, Flag, Settled, Weighing, wrap
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.doses.shown import Showing, Shown
from neckyoke.bridge.job.past import Past
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
        (260.0, "poor", False),  # 318.5 / 260 = 1.225: a poor last weight tells less
        (250.0, "poor", True),
        (None, "good", False),
    ],
)
def test_another_weight_than_the_first_is_another_dose(
    clerk: Clerk, first_kg: float | None, grade: str, *, doubtful: bool
) -> None:
    told = _told(clerk, first_kg=first_kg, grade=grade)
    drench, vaccine = told.treatments
    assert drench.amount == pytest.approx((first_kg or 318.5) * 0.1), "what was given is what was shown"
    asked = f"by {first_kg:g} kg, as shown; by 318.5 kg it is 31.85 mL: see the label" if first_kg else ""
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


SHOWN = {  # first weights as they were shown: seconds after it settled, kg, poor; and whether one before is asked about
    "half on for long, then all": ([(0.0, 160.0, False), (4.6, 318.5, False)], True),
    "and a poor one in between": ([(0.0, 160.0, False), (3.0, 240.0, True), (4.0, 318.5, False)], True),
    "half on for a moment": ([(0.0, 160.0, False), (1.9, 318.5, False)], False),
    "half on, and not to be dosed by": ([(0.0, 160.0, True), (4.6, 318.5, False)], False),
    "nearly the same": ([(0.0, 300.0, False), (4.6, 318.5, False)], False),
    "one": ([(0.0, 318.5, False)], False),
}


@pytest.mark.parametrize("name", SHOWN)
def test_a_dose_by_another_weight_that_was_on_show_before_is_asked_about(tmp_path: Path, name: str) -> None:
    shown, asked = SHOWN[name]
    path = tmp_path / "sheet.toml"
    path.write_text(SHEET)
    past = Past()
    clerk = Clerk(one(load_sheet(path), None), shown=past.shown)
    data = events.weighing(1)
    assert data.settled is not None
    for after_s, kg, poor in shown:
        weight = data.weight.model_copy(update={"kg": kg, "first_kg": kg, "grade": "poor" if poor else "fair"})
        values = data.model_dump() | {"weight": weight.model_dump()}
        settled = Settled.model_validate({key: values[key] for key in Settled.model_fields if key in values})
        for _ in range(2):  # told again as its tag becomes known
            past.add(
                clerk.fill(wrap(settled, site=events.SITE, time=data.settled + timedelta(seconds=after_s), key="s"))
            )
    off = data.settled + timedelta(seconds=shown[-1][0] + 5.0)
    told = clerk.fill(_event(data.model_copy(update={"off": off}))).data
    assert isinstance(told, Weighing)
    drench, vaccine = told.treatments
    assert ("16 mL by 160 kg was on show before, for " in (drench.remark or "")) == asked
    assert vaccine.remark is None
    assert _doubtful(told) == asked


def test_how_long_it_was_on_show_is_since_it_was_shown_and_of_a_fixed_dose_since_any_was(tmp_path: Path) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text(SHEET)
    data = events.weighing(1)
    assert data.settled is not None
    brief = "it was on show for 0.4 s: if it was not given, say so"
    for poor_kg, remark in ((160.0, brief), (318.5, None)):
        showings = (Showing(0.0, poor_kg, poor=True), Showing(4.6, 318.5, poor=False))
        clerk = Clerk(one(load_sheet(path), None), shown={data.weighing: Shown(showings=showings)}.__getitem__)
        told = clerk.fill(_event(data.model_copy(update={"off": data.settled + timedelta(seconds=5.0)}))).data
        assert isinstance(told, Weighing)
        assert [one.remark for one in told.treatments] == [remark, None]
