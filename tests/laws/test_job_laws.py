"""What holds for every dose, date, pen, roster and event."""

import tempfile
from datetime import UTC, date, datetime, timedelta, timezone
from itertools import pairwise
from math import inf
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.events import Clock, Event, Tag, Weighing, Weight, wrap
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.doses.dosing import Rounding, Rule, dose_for, fraction, marks_fit
from neckyoke.bridge.job.doses.withholding import ends_at, first_clear_date
from neckyoke.bridge.job.pens.drafting import Band, gaps, never_reached, pen_for
from neckyoke.bridge.job.pens.drafting import Rule as Pen
from neckyoke.bridge.job.roster.roster import Animal, Roster, load_roster
from neckyoke.bridge.job.sheet import Sheet
from tests.support.sheets import one

TENTHS = st.integers(1, 400).map(lambda n: n / 10)
MAYBE = st.one_of(st.none(), TENTHS)
WEIGHTS = st.integers(10, 20000).map(lambda n: n / 10)
RULES = st.builds(
    lambda rate, least, most, mark, rounding: Rule(
        per_kg=fraction(rate) / 100,
        at_least=None if least is None else fraction(least),
        at_most=None if most is None else fraction(most),
        mark=None if mark is None else fraction(mark),
        rounding=rounding,
    ),
    TENTHS,
    MAYBE,
    MAYBE,
    MAYBE,
    st.sampled_from(["up", "down", "nearest"]),
).filter(marks_fit)


@settings(deadline=None)
@given(RULES, WEIGHTS, WEIGHTS)
def test_a_dose_keeps_its_bounds_lies_on_a_mark_and_never_falls_with_weight(rule: Rule, one: float, two: float) -> None:
    light, heavy = (dose_for(rule, kg) for kg in sorted((one, two)))
    assert light is not None
    assert heavy is not None
    assert light.amount <= heavy.amount
    for dose in (light, heavy):
        given_ml = fraction(dose.amount)
        assert rule.at_least is None or given_ml >= rule.at_least
        assert rule.at_most is None or given_ml <= rule.at_most
        assert rule.mark is None or (given_ml / rule.mark).denominator == 1


@settings(deadline=None)
@given(WEIGHTS, TENTHS, TENTHS)
def test_rounding_moves_a_dose_by_less_than_a_mark_the_way_it_says(kg: float, rate: float, mark: float) -> None:
    def dose(rounding: Rounding) -> tuple[float, float]:
        made = dose_for(Rule(fraction(rate) / 100, mark=fraction(mark), rounding=rounding), kg)
        assert made is not None
        return made.amount, made.exact

    (up, exact), (down, _), (nearest, _) = dose("up"), dose("down"), dose("nearest")
    assert down - 0.0005 <= exact <= up + 0.0005
    assert up - down <= mark + 1e-9
    assert nearest in {up, down}
    assert abs(nearest - exact) <= mark / 2 + 0.0005


@settings(deadline=None)
@given(
    st.datetimes(datetime(2020, 1, 1), datetime(2040, 1, 1)),  # noqa: DTZ001  the zone is laid on below
    st.integers(-12, 14),
    st.integers(1, 400),
)
def test_the_first_clear_date_is_the_first_that_lies_wholly_after(naive: datetime, hours: int, days: int) -> None:
    zone = timezone(timedelta(hours=hours))
    dosed = naive.replace(tzinfo=zone)
    clear = first_clear_date(dosed, days)
    begins = datetime(clear.year, clear.month, clear.day, tzinfo=zone)
    assert begins >= ends_at(dosed, days) > begins - timedelta(days=1)
    assert ends_at(dosed, days) - dosed == timedelta(hours=24 * days)


@settings(deadline=None)
@given(st.lists(st.integers(1, 60).map(lambda n: n * 10.0), min_size=1, max_size=5, unique=True).map(sorted), WEIGHTS)
def test_touching_bands_put_every_animal_in_exactly_one_pen(edges: list[float], kg: float) -> None:
    bounds = [-inf, *edges, inf]
    pens = [Pen(str(i), Band(low, high)) for i, (low, high) in enumerate(pairwise(bounds))]
    assert not list(never_reached(pens))
    assert gaps(pens) == []
    took = [pen.pen for pen in pens if pen.takes(kg, None, {})]
    assert took == [pen_for(pens, kg, None, {})]


CELLS = st.lists(
    st.one_of(
        st.sampled_from(
            [
                "tag",
                "visual",
                "born",
                "last_kg",
                "last_date",
                "sex",
                "999000000112233",
                "2026-02-30",
                "31/12/2026",
                "\n",
            ]
        ),
        st.text(alphabet=st.characters(max_codepoint=0x2FF), max_size=8),
    ),
    max_size=30,
)


@settings(deadline=None)
@given(
    st.one_of(
        st.binary(max_size=200), st.builds(lambda cells, by: by.join(cells).encode(), CELLS, st.sampled_from(",;\t"))
    )
)
def test_whatever_a_roster_holds_it_is_read_or_refused_plainly(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "roster.csv"
        path.write_bytes(content)
        try:
            roster = load_roster(path, date(2026, 11, 24))
        except ConfigError:
            return  # nothing in it: said so
        assert len({animal.key for animal in roster.animals}) == len(roster)
        assert all(problem.where.startswith(("row ", "rows ")) for problem in roster.problems)


SHEET = Sheet.model_validate(
    {
        "title": "Weaning",
        "details": {"sex": "steer"},
        "treatments": [{"name": "drench", "ml_per_kg": 0.1, "round_to_ml": 5, "withhold_days": 28}],
        "draft": [{"pen": "heavy", "at_least_kg": 340}, {"pen": "rest"}],
    }
)
TAGS = [f"99900000000000{i}" for i in range(4)]
ROSTER = Roster([Animal(row=2 + i, tag=tag, visual=str(i), sex="heifer") for i, tag in enumerate(TAGS[:3])])
START = datetime(2026, 11, 24, tzinfo=UTC)


def weighing(number: int, revision: int, tag: str | None, kg: float | None) -> Event:
    on = START + timedelta(minutes=number)
    data = Weighing(
        weighing=f"w{number}",
        revision=revision,
        station="crush",
        number=number,
        tag=Tag(id=tag, code=tag[:3], national=tag[3:], animal=True) if tag else None,
        weight=Weight(kg=kg, grade="none" if kg is None else "good", first_kg=kg),
        on=on,
        settled=on,
        off=on,
        clock=Clock.SYNCHRONISED,
    )
    return wrap(data, site="larkmoor", time=on, key=f"{number}/{revision}")


EVENTS = st.lists(
    st.builds(
        weighing,
        st.integers(1, 6),
        st.integers(1, 3),
        st.one_of(st.none(), st.sampled_from(TAGS)),
        st.one_of(st.none(), WEIGHTS),
    ),
    max_size=12,
)


@settings(deadline=None)
@given(EVENTS)
def test_the_clerk_only_adds_and_filling_twice_is_filling_once(events: list[Event]) -> None:
    clerk, again = Clerk(one(SHEET, ROSTER)), Clerk(one(SHEET, ROSTER))
    for event in events:
        filled = clerk.fill(event)
        assert clerk.fill(filled) == filled
        assert again.fill(event) == filled, "a replay gives the same"
        before, after = event.data, filled.data
        assert isinstance(before, Weighing)
        assert isinstance(after, Weighing)
        added = {"sheet", "animal", "details", "treatments", "gain", "pen", "flags"}
        assert before.model_dump(exclude=added) == after.model_dump(exclude=added)
        assert after.flags[: len(before.flags)] == before.flags
