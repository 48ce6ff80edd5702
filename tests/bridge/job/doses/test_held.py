"""Withheld is told, and holds only an animal that leaves; never twice by a slip."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Clock, DoseSaid, Settled, Tag, Weight, WithheldFor
from neckyoke.bridge.job.doses.given import treatments
from neckyoke.bridge.job.doses.held import Leaving, PastDose, holds, spell_withheld, withheld_for
from neckyoke.bridge.job.doses.treatments import TreatmentTable

TODAY = date(2026, 12, 1)
NOON = datetime(2026, 12, 1, 12, 0, tzinfo=UTC)
A = "999000000000101"


def dose(name: str = "drench", meat: str | None = "2026-12-02", export: str | None = None, **given: Any) -> PastDose:
    return PastDose(name, given.get("at", NOON - timedelta(days=20)), given.get("job"), meat, export)


def told(*doses: PastDose, brought: Sequence[tuple[str, str | None]] = ()) -> list[tuple[str, str, str | None]]:
    return [(one.product, one.kind, one.until) for one in withheld_for(doses, brought, TODAY)]


@pytest.mark.parametrize(
    ("doses", "said"),
    [
        ([], []),
        ([dose()], [("drench", "meat", "2026-12-02")]),
        ([dose(meat="2026-12-01")], []),
        ([dose(meat="unknown")], [("drench", "meat", None)]),
        ([dose(meat=None)], []),
        ([dose(meat="2026-12-01", export="2026-12-15")], [("drench", "export", "2026-12-15")]),
        ([dose(), dose(meat="2026-12-09")], [("drench", "meat", "2026-12-09")]),
        ([dose(meat="2026-12-09"), dose()], [("drench", "meat", "2026-12-09")]),
        ([dose(meat="unknown"), dose()], [("drench", "meat", None)]),
        (
            [dose(), dose("vaccine", "2026-12-20")],
            [("vaccine", "meat", "2026-12-20"), ("drench", "meat", "2026-12-02")],
        ),
    ],
)
def test_of_each_product_and_kind_the_longest_is_told(
    doses: list[PastDose], said: list[tuple[str, str, str | None]]
) -> None:
    assert sorted(told(*doses), key=str) == sorted(said, key=str)


def test_what_lasts_longest_comes_first() -> None:
    doses = [dose("a", "2026-12-05"), dose("b", "unknown"), dose("c", "2026-12-20")]
    assert [product for product, _, _ in told(*doses)] == ["b", "c", "a"]


def test_dates_that_were_brought_along_count() -> None:
    assert told(brought=[("roster", "2026-12-24"), ("herd book", None)]) == [("roster", "meat", "2026-12-24")]


MEAT = WithheldFor(product="drench", kind="meat", until="2026-12-02")
EXPORT = WithheldFor(product="drench", kind="export", until="2026-12-20")


@pytest.mark.parametrize(
    ("withheld", "leaving", "held"),
    [
        ([], "meat", False),
        ([MEAT], None, False),
        ([MEAT], "meat", True),
        ([MEAT], "export", True),
        ([EXPORT], "meat", False),
        ([EXPORT], "export", True),
        ([EXPORT, MEAT], "meat", True),
    ],
)
def test_only_an_animal_that_leaves_is_held(
    withheld: list[WithheldFor], leaving: Leaving | None, *, held: bool
) -> None:
    assert holds(withheld, leaving) == held


@pytest.mark.parametrize(
    ("withheld", "said"),
    [
        ([], ""),
        ([MEAT], "withheld until 2026-12-02 for meat (drench)"),
        ([EXPORT, MEAT], "withheld until 2026-12-20 for export (drench) and 2026-12-02 for meat (drench)"),
        (
            [WithheldFor(product="vaccine", kind="meat", until=None), MEAT],  # the longest first: it alone is said
            "withheld until a date not known for meat (vaccine)",
        ),
    ],
)
def test_it_is_said_until_when_for_what_and_why(withheld: list[WithheldFor], said: str) -> None:
    assert spell_withheld(withheld) == said


CLEAR = st.one_of(st.none(), st.just("unknown"), st.dates(date(2026, 11, 25), date(2026, 12, 8)).map(date.isoformat))


@given(st.lists(st.builds(dose, st.sampled_from(["a", "b"]), CLEAR, CLEAR), max_size=6))
def test_it_says_what_a_plain_model_says(doses: list[PastDose]) -> None:
    expected: dict[tuple[str, str], str] = {}
    for one in doses:
        for kind, clear in (("meat", one.meat), ("export", one.export)):
            if clear == "unknown" or (clear is not None and date.fromisoformat(clear) > TODAY):
                before = expected.get((one.name, kind), "")
                expected[one.name, kind] = max(before, "9999" if clear == "unknown" else clear)
    assert {(product, kind): until or "9999" for product, kind, until in told(*doses)} == expected


TABLES = (
    TreatmentTable(name="Drench", ml=10, withhold_days=28, batch="B7"),
    TreatmentTable(name="copper", amount=1, unit="bolus", withhold_days=0),
)


def settled(job: str | None = "j2", *said: DoseSaid) -> Settled:
    return Settled(
        weighing="w",
        station="crush",
        number=1,
        tag=Tag(id=A, code="999", national=A[3:], animal=True),
        weight=Weight(kg=300, grade="good", first_kg=300),
        on=NOON,
        settled=NOON,
        clock=Clock.SYNCHRONISED,
        job=job,
        doses_said=said,
    )


def given_now(before: list[PastDose], data: Settled, zone: str = "UTC") -> list[tuple[float | None, bool]]:
    made = treatments(TABLES, data, NOON.astimezone(ZoneInfo(zone)), before)
    return [(one.amount, one.skipped) for one in made]


TWICE = [(None, True), (1.0, False)]
BOTH = [(10.0, False), (1.0, False)]


@pytest.mark.parametrize(
    ("before", "job", "now"),
    [
        ([dose(job="j1", at=NOON - timedelta(hours=4))], "j2", TWICE),  # this morning, in another job
        ([dose(job="j2", at=NOON - timedelta(days=1))], "j2", TWICE),  # in this job, which began yesterday
        ([dose(job="j1", at=NOON - timedelta(days=1))], "j2", BOTH),
        ([dose(job=None, at=NOON - timedelta(days=1))], None, BOTH),
        ([dose(" drench ", job="j1", at=NOON - timedelta(minutes=1))], "j2", TWICE),
        ([dose("vaccine", job="j2", at=NOON)], "j2", BOTH),
    ],
)
def test_what_it_had_in_this_job_or_today_is_not_given_again(
    before: list[PastDose], job: str | None, now: list[tuple[float | None, bool]]
) -> None:
    assert given_now(before, settled(job)) == now


def test_it_says_when_it_had_it() -> None:
    before = [dose(job="j1", at=NOON - timedelta(hours=4))]
    (one, _) = treatments(TABLES, settled(), NOON.astimezone(ZoneInfo("Australia/Perth")), before)
    assert one.given_before == NOON - timedelta(hours=4)
    assert one.remark == "given today at 16:00: not given again unless you say so", "08:00 UTC is 16:00 there"
    assert one.withheld_until is None


def test_today_is_the_farms_day() -> None:
    """22:00 UTC the day before is 11:00 of the same day in Auckland, where noon UTC is 01:00 the next."""
    before = [dose(job="j1", at=NOON - timedelta(hours=14))]
    assert given_now(before, settled()) == BOTH
    assert given_now(before, settled(), "Pacific/Auckland") == BOTH
    assert given_now(before, settled(), "America/New_York") == BOTH
    assert given_now([dose(job="j1", at=NOON - timedelta(hours=1))], settled(), "America/New_York") == TWICE


@pytest.mark.parametrize(
    ("said", "now"),
    [
        (DoseSaid(name="Drench", given=True), BOTH),
        (DoseSaid(name="Drench", amount=12.0), [(12.0, False), (1.0, False)]),
        (DoseSaid(name="Drench", batch="B8"), TWICE),
        (DoseSaid(name="Drench", given=False), TWICE),
    ],
)
def test_a_person_who_says_so_gives_it_again(said: DoseSaid, now: list[tuple[float | None, bool]]) -> None:
    assert given_now([dose(job="j2", at=NOON - timedelta(minutes=5))], settled("j2", said)) == now
