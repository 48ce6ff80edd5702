"""Who may not go on a day: the list against a plain reference model over random histories."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Event, Treatment
from neckyoke.bridge.reports.doses.withheld import ROSTER, Kind, withheld_on

A, B, C = "999000000000101", "999000000000102", "999000000000103"
DAY = date(2026, 12, 1)


def weighed(key: int, tag: str | None, treatments: list[Treatment], **given: Any) -> dict[str, Any]:
    animal = given.pop("animal", None)
    return {
        "weighing": f"w{key}",
        "revision": given.pop("revision", 1),
        "on": f"2026-11-{key % 28 + 1:02}T02:00:00.000Z",
        "settled": None,
        "tag": {"id": tag} if tag else None,
        "animal": animal,
        "flags": given.pop("flags", []),
        "treatments": [one.model_dump(mode="json") for one in treatments],
        **given,
    }


def drench(until: str | None = "2026-12-02", export: str | None = None, **given: Any) -> Treatment:
    return Treatment(name="oral drench", withheld_until=until, export_from=export, **given)


def test_until_the_first_clear_date_and_not_on_it() -> None:
    day = [weighed(1, A, [drench()], animal={"visual": "7"})]
    (one,) = withheld_on(day, DAY, UTC)
    assert (one.visual, one.tag, one.until, [vars_of(one)]) == (
        *("7", A, "2026-12-02"),
        [[("oral drench", "2026-11-02", "2026-12-02")]],
    )
    assert withheld_on(day, date(2026, 12, 2), UTC) == []


def vars_of(one: Any) -> list[tuple[str, str | None, str | None]]:
    return [(because.product, because.given, because.until) for because in one.because]


def test_an_unknown_period_holds_for_ever_and_says_so() -> None:
    (one,) = withheld_on([weighed(1, A, [drench("unknown"), drench("2026-12-09")])], date(2026, 12, 5), UTC)
    assert one.until is None
    assert [until for _, _, until in vars_of(one)] == [None, "2026-12-09"]
    (one,) = withheld_on([weighed(1, A, [drench("unknown")])], date(2036, 12, 5), UTC)
    assert one.until is None


def test_export_has_dates_of_its_own() -> None:
    day = [weighed(1, A, [drench("2026-11-20", "2026-12-20")])]
    assert withheld_on(day, DAY, UTC) == []
    assert [one.until for one in withheld_on(day, DAY, UTC, "export")] == ["2026-12-20"]


def test_an_animal_is_one_under_both_its_tags() -> None:
    """Drenched under its old tag, seen since under the new one: withheld, with both in its row."""
    day = [
        weighed(1, A, [drench()], animal={"id": "x", "visual": "105"}),
        weighed(9, B, [], animal={"id": "x", "visual": "105"}),
    ]
    (one,) = withheld_on(day, DAY, UTC)
    assert (one.visual, one.tag, one.former_tags) == ("105", B, (A,))


def test_what_was_mended_or_not_given_holds_nobody() -> None:
    day = [
        weighed(2, B, [drench(skipped=True)]),
        weighed(3, C, [drench()]),
        weighed(3, C, [drench("2026-11-30")], revision=2),
    ]
    assert withheld_on(day, DAY, UTC) == []


def test_a_dose_holds_also_where_its_weighing_was_struck_out() -> None:
    (one,) = withheld_on([weighed(1, A, [drench()], flags=["voided"])], DAY, UTC)
    assert one.tag == A
    assert withheld_on([weighed(1, A, [drench(skipped=True)], flags=["voided"])], DAY, UTC) == []


def test_a_rosters_own_date_counts() -> None:
    (one,) = withheld_on([weighed(1, A, [], animal={"withheld_until": "2026-12-24"})], DAY, UTC)
    assert vars_of(one) == [(ROSTER, None, "2026-12-24")]


def test_they_come_as_people_count() -> None:
    names = ["10", "9", "A2", None, "100", "a1"]
    tags = [f"99900000000020{n}" for n in range(6)]
    day = [
        weighed(n, tag, [drench()], animal={"visual": name} if name else None)
        for n, (name, tag) in enumerate(zip(names, tags, strict=True))
    ]
    assert [one.visual for one in withheld_on(day, DAY, UTC)] == ["9", "10", "100", "a1", "A2", None]


DATES = st.one_of(
    st.none(), st.just("unknown"), st.dates(date(2026, 11, 20), date(2026, 12, 12)).map(lambda day: day.isoformat())
)
DOSES = st.lists(st.builds(drench, DATES, DATES, skipped=st.booleans()), max_size=3)
HISTORY = st.lists(
    st.tuples(st.sampled_from([A, B, C]), DOSES, st.booleans(), st.integers(1, 3), st.integers(0, 5)), max_size=12
)


@given(HISTORY, st.dates(date(2026, 11, 18), date(2026, 12, 14)), st.sampled_from(["meat", "export"]))
def test_the_list_is_what_a_plain_model_says(
    history: list[tuple[str, list[Treatment], bool, int, int]], day: date, kind: Kind
) -> None:
    """The model keeps of each weighing what came with the highest revision first, and asks every dose of it."""
    weighings: list[dict[str, Any]] = []
    newest: dict[int, tuple[int, str, list[Treatment]]] = {}
    for tag, given_doses, void, revision, key in history:
        weighings.append(weighed(key, tag, given_doses, revision=revision, flags=["voided"] if void else []))
        if key not in newest or revision > newest[key][0]:
            newest[key] = (revision, tag, given_doses)
    expected = set()
    for _, tag, given_doses in newest.values():
        for one in given_doses:
            until = one.withheld_until if kind == "meat" else one.export_from
            held = until == "unknown" or (until is not None and date.fromisoformat(until) > day)
            if not one.skipped and held:
                expected.add(tag)
    assert {one.tag for one in withheld_on(weighings, day, UTC, kind)} == expected


def test_events_of_our_own_writer_are_read(event: Callable[..., Event], dose: Callable[..., Treatment]) -> None:
    made = [event(n, treatments=[dose()]).data.model_dump(mode="json") for n in range(3)]
    assert len(withheld_on(made, date(2026, 12, 22), UTC)) == 3
    assert datetime.fromisoformat(made[0]["on"]) - timedelta(days=1) < datetime(2026, 11, 24, 2, tzinfo=UTC)
