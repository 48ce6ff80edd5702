"""One job against a list of its stays, one by one: the station's number, the job's own, and whether it was paused."""

import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.job.jobs.job import Job, SheetRef, Span, read_job, spell_job
from neckyoke.bridge.job.jobs.spelled import read_op, spell_op
from neckyoke.bridge.job.jobs.words import Begin, Choose, End, Op, Pause, Resume, Run, Seen, Stay
from neckyoke.bridge.station.settings import Place

BEGUN = datetime(2026, 11, 24, 6, 0, tzinfo=UTC)
STEERS, LAMBS = SheetRef("Steers", "a" * 12), SheetRef("Lambs", "b" * 12)


def job(*spans: Span, **given: object) -> Job:
    return Job(id="j1", turn=1, begun=BEGUN, spans=spans, **given)  # type: ignore[arg-type]


@st.composite
def laid(draw: st.DrawFn) -> tuple[Job, int, list[tuple[int, int | None]]]:
    """Draw a job, the number of the station's last stay, and the job's stays: theirs and the job's number."""
    spans, stays, at, number = list[Span](), list[tuple[int, int | None]](), 1, 1
    for gap, length, paused in draw(
        st.lists(st.tuples(st.integers(0, 2), st.integers(1, 3), st.booleans()), max_size=4)
    ):
        at += gap
        spans.append(Span(at, at + length - 1, 0 if paused else number))
        stays += [(at + n, None if paused else number + n) for n in range(length)]
        at, number = at + length, number if paused else number + length
    now = at - 1
    goes_on = draw(st.booleans())
    if spans and goes_on:
        spans[-1] = spans[-1]._replace(last=None)
    else:
        now += draw(st.integers(0, 2))
    return job(*spans), now, stays


@given(laid())
def test_a_job_knows_each_of_its_stays_and_no_other(drawn: tuple[Job, int, list[tuple[int, int | None]]]) -> None:
    one, now, stays = drawn
    known = dict(stays)
    for number in range(now + 3):
        mine = known.get(number)
        expected = Place("j1", mine) if mine is not None else Place(paused=True) if number in known else None
        assert one.place_of(number, now) == expected
    counted = {mine: number for number, mine in stays if mine is not None}
    assert [one.number_of(mine, now) for mine in range(len(stays) + 3)] == [
        counted.get(mine) for mine in range(len(stays) + 3)
    ]
    assert list(one.numbers(now)) == [*counted.values()]
    assert list(one.numbers(now, paused=True)) == [number for number, mine in stays if mine is None]
    assert one.count(now) == max(counted, default=0)


@given(laid(), st.integers(0, 20))
def test_the_stays_from_a_number_on_are_left_out(
    drawn: tuple[Job, int, list[tuple[int, int | None]]], number: int
) -> None:
    one, now, stays = drawn
    left = one.before(number, now)
    kept = {at: mine for at, mine in stays if at < number}
    for at in range(number):
        assert left.place_of(at, now) == (one.place_of(at, now) if at in kept else None)
    if number <= now:
        assert not [at for at in range(number, now + 3) if left.place_of(at, now) is not None]
    assert all(span.last is None or span.first <= span.last for span in left.spans)
    assert (left.id, left.begun) == (one.id, one.begun)


@given(laid())
def test_a_closed_job_takes_no_stay_more_and_loses_none(
    drawn: tuple[Job, int, list[tuple[int, int | None]]],
) -> None:
    one, now, stays = drawn
    closed = one.closed(now)
    assert [closed.place_of(at, now + 9) for at in range(now + 9)] == [
        one.place_of(at, now) if at <= now else None for at in range(now + 9)
    ]
    assert all(span.last is not None and span.first <= span.last for span in closed.spans)
    assert len(stays) == sum(1 for _ in closed.numbers(now)) + sum(1 for _ in closed.numbers(now, paused=True))


def test_a_job_that_saw_nothing_yet_closes_to_nothing() -> None:
    assert job(Span(4, None, 1)).closed(3).spans == ()
    assert job(Span(4, None, 1)).closed(4).spans == (Span(4, 4, 1),)
    assert job(Span(4, None, 1)).with_span(9, None, 2).spans == (Span(4, None, 1), Span(9, None, 2))


@pytest.mark.parametrize(
    ("sheets", "held", "now"),
    [
        ((), {1: None, 9: None}, None),
        (((0, STEERS),), {1: STEERS, 9: STEERS}, STEERS),
        (((0, STEERS), (4, LAMBS)), {1: STEERS, 4: STEERS, 5: LAMBS}, LAMBS),
        (((3, STEERS), (4, None)), {1: STEERS, 3: STEERS, 4: STEERS, 5: None}, None),  # 1: counted in from before
    ],
)
def test_a_sheet_holds_from_the_stay_after_it_was_named(
    sheets: tuple[tuple[int, SheetRef | None], ...], held: dict[int, SheetRef | None], now: SheetRef | None
) -> None:
    one = job(sheets=sheets)
    assert {number: one.sheet_for(number) for number in held} == held
    assert one.sheet == now


@pytest.mark.parametrize(
    ("standing", "is_open"), [("open", True), ("paused", True), ("ended", False), ("undone", False)]
)
def test_open_and_paused_jobs_take_stays(standing: str, *, is_open: bool) -> None:
    assert job(standing=standing).is_open is is_open


def test_a_new_job_is_open_begun_by_a_person_and_under_no_sheet() -> None:
    one = job()
    assert (one.standing, one.by_itself, one.idle, one.sheet, one.ended) == ("open", False, False, None, None)


@pytest.mark.parametrize(
    "one",
    [
        job(),
        job(
            Span(1, 3, 1),
            Span(4, 4, 0),
            Span(5, None, 4),
            standing="paused",
            by_itself=True,
            sheets=((0, None), (2, STEERS)),
        ),
        job(Span(1, 3, 1), standing="ended", idle=True, ended=BEGUN.replace(hour=9)),
    ],
)
def test_a_job_is_the_same_after_it_was_spelled_and_read(one: Job) -> None:
    spelled = json.loads(json.dumps(spell_job(one)))
    assert read_job(spelled) == one
    assert spelled["begun"].startswith("2026-11-24T06:00:00")
    assert spelled.keys() == {"id", "turn", "begun", "ended", "standing", "by_itself", "idle", "sheets", "spans"}


@pytest.mark.parametrize(
    ("said", "spelled"),
    [
        (Begin(), ["begin", None, False]),
        (Begin(STEERS, bare=True), ["begin", list(STEERS), True]),
        (Pause(), ["pause", ""]),
        (Pause("rain"), ["pause", "rain"]),
        (Resume(), ["resume", None, None]),
        (Resume(2, 7), ["resume", 2, 7]),
        (End(), ["end"]),
        (Choose(LAMBS), ["choose", list(LAMBS), False, False]),
        (Choose(LAMBS, mended=True), ["choose", list(LAMBS), True, False]),
        (Choose(LAMBS, configured=True), ["choose", list(LAMBS), False, True]),
        (Stay(3), ["stay", 3]),
        (Seen(3), ["seen", 3]),
        (Run(), ["run"]),
    ],
)
def test_what_happened_is_spelled_as_journals_of_before_have_it_and_read_again(said: Op, spelled: list[object]) -> None:
    assert json.loads(json.dumps(spell_op(said))) == spelled
    assert read_op(spelled) == said
