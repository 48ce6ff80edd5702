"""What earlier weighings say of an animal, beside a plain reference: of each weighing the highest revision, no more."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Event, Flag, Settled, Treatment, Weighing
from neckyoke.bridge.job.past import SHOWN, Past, by_tag
from tests.support.events import DAY, link_state, weighed, weighing

CLEAR = st.sampled_from([None, "2026-12-01", "2026-12-24", "unknown"])
SAID = st.tuples(
    st.integers(0, 3),  # the stay's number
    st.integers(1, 4),  # revision
    st.sampled_from([None, "a", "b"]),  # the animal, as the herd book has it
    st.sampled_from(["good", "fair", "poor"]),
    CLEAR,
    st.booleans(),  # skipped
    st.booleans(),  # voided
)


def event(number: int, revision: int = 1, animal: str | None = "a", **said: Any) -> Event:
    dose = Treatment(name="drench", withheld_until=said.get("clear"), skipped=said.get("skipped", False))
    made = weighed(number, revision=revision, tag="999000000000007", kg=300.0 + 10 * number + revision)
    data = made.data.model_dump()
    data |= {"animal": {"id": animal} if animal else None, "treatments": (dose,), "job": "j1"}
    data["weight"]["grade"] = said.get("grade", "good")
    data["flags"] = (Flag.VOIDED,) if said.get("voided") else ()
    return made.model_copy(update={"data": Weighing.model_validate(data | said.get("more", {}))})


def of(events: Iterable[Event], animal: str, before: datetime) -> tuple[list[Any], list[Any], str | None]:
    past = Past.of(events, owner=lambda _: None)
    return past.weights(animal), [dose.meat for dose in past.doses(animal, before)], past.clear_from(animal, before)


@given(st.lists(SAID, max_size=12), st.integers(0, 5))
def test_of_each_weighing_the_highest_revision_counts_in_whatever_order_they_come(
    said: list[tuple[int, int, str | None, str, str | None, bool, bool]], minutes: int
) -> None:
    unique = {one[:2]: one for one in said}
    events = [
        event(number, revision, animal, grade=grade, clear=clear, skipped=skipped, voided=voided)
        for number, revision, animal, grade, clear, skipped, voided in (unique[one[:2]] for one in said)
    ]
    newest: dict[int, tuple[int, int, str | None, str, str | None, bool, bool]] = {}
    for one in unique.values():
        newest[one[0]] = max(newest.get(one[0], one), one, key=lambda each: each[1])
    before = DAY + timedelta(minutes=minutes)
    for animal in ("a", "b"):
        mine = [one for _, one in sorted(newest.items()) if one[2] == animal]
        weights = [
            (DAY + timedelta(minutes=n), 300.0 + 10 * n + rev)
            for n, rev, _, grade, _, _, voided in mine
            if grade != "poor" and not voided
        ]
        doses = [clear for n, _, _, _, clear, skipped, _ in mine if not skipped and n < minutes]
        longest = max((clear for clear in doses if clear), default=None)  # "unknown" is spelled after all dates
        assert of(events, animal, before) == (weights, doses, longest)


LATER = DAY + timedelta(days=30)


@pytest.mark.parametrize(
    ("events", "clear"),
    [
        ([], None),
        ([link_state(1)], None),
        ([event(1, clear="2026-12-01")], "2026-12-01"),
        ([event(1, 2), event(1, clear="2026-12-01")], None),  # it was taken back, whichever is read first
        ([event(1, 2, voided=True), event(1, clear="2026-12-01")], None),
        ([event(1, clear="2026-12-01"), event(1, 2, clear="2026-12-01", voided=True)], "2026-12-01"),  # it had it
        ([event(1, clear="2026-12-01"), event(1, 2, "b", clear="2026-12-01")], None),  # it was another's
        ([event(1, clear="2026-12-01"), event(1, 2, "b"), event(1, 3, clear="unknown")], "unknown"),
    ],
)
def test_who_is_withheld_follows_every_correction(events: list[Event], clear: str | None) -> None:
    assert of(events, "a", LATER)[2] == clear


def test_a_dose_is_of_the_moment_at_which_the_weight_had_settled_and_of_its_job() -> None:
    (dose,) = Past.of([event(1, clear="2026-12-01")]).doses("a", LATER)
    assert (dose.name, dose.at, dose.job) == ("drench", DAY + timedelta(minutes=1, seconds=4), "j1")
    (late,) = Past.of([event(1, more={"settled": None})]).doses("a", LATER)
    assert late.at == DAY + timedelta(minutes=1, seconds=9), "when it left, where it never settled"


def test_one_weighing_can_be_left_out_and_all_ids_of_a_beast_are_one() -> None:
    events = [event(1, clear="2026-12-01"), event(2, animal="b", clear="2026-12-24"), event(3)]
    but = events[1].data.model_dump()["weighing"]
    past = Past.of(events, group=lambda _: ("a", "b"))
    assert [kg for _, kg in past.weights("a")] == [311.0, 321.0, 331.0]
    assert [kg for _, kg in past.weights("b", but)] == [311.0, 331.0]
    assert (past.clear_from("a", LATER), past.clear_from("a", LATER, but)) == ("2026-12-24", "2026-12-01")


def test_where_no_book_is_kept_the_tag_tells_whose_a_weighing_is() -> None:
    tagged, listed = event(1, animal=None), event(2, more={"animal": {"tag": "999000000000007"}, "tag": None})
    unknown = event(3, animal=None, more={"tag": None})
    merged = event(4, more={"animal": {"id": "b", "known_as": "a"}})
    past = Past.of([tagged, listed, unknown, merged])
    assert [kg for _, kg in past.weights("999000000000007")] == [311.0, 321.0]
    assert [kg for _, kg in past.weights("a")] == [341.0], "by the id that it had then"
    assert isinstance(unknown.data, Weighing)
    assert by_tag(unknown.data) is None


def test_what_is_forgotten_can_be_read_again() -> None:
    events = [event(1), event(1, 2, clear="2026-12-01"), event(2, animal="b")]
    past = Past.of(events)
    past.forget("a")
    past.forget("nobody")
    assert (past.weights("a"), len(past.weights("b"))) == ([], 1)
    for one in events:
        past.add(one)
    assert [kg for _, kg in past.weights("a")] == [312.0]
    assert past.clear_from("a", LATER) == "2026-12-01"


def test_treatments_are_remembered_as_they_were_published_last_but_for_those_a_person_spoke_of() -> None:
    past = Past.of([event(1, animal=None), event(2)], owner=lambda _: None)
    assert [one.skipped for one in past.shown(weighing(1).weighing).unsaid.values()] == [False], "whoever it was"
    past.add(event(2, 3, skipped=True))
    past.add(event(2, 2))  # an earlier revision, come late
    assert past.shown(weighing(2).weighing).unsaid["drench"].skipped
    past.add(event(2, 4, more={"doses_said": [{"name": "Drench ", "amount": 12.0}]}))
    assert past.shown(weighing(2).weighing).unsaid == {}
    assert past.shown("none such").unsaid == {}
    stays = (weighing(2).weighing, "none such")
    without = {
        name: [past.shown(stay).lacked(name, None) is not None for stay in stays] for name in ("drench", "copper")
    }
    assert without == {"drench": [False, False], "copper": [True, False]}, "a person's word is on one that was there"


def test_no_more_of_them_are_remembered_than_stays_are_at_hand() -> None:
    past = Past.of((event(number) for number in range(1, SHOWN + 2)), owner=lambda _: None)
    assert past.shown(weighing(1).weighing).unsaid == {}
    assert past.shown(weighing(2).weighing).unsaid["drench"].name == "drench"


def test_of_a_stay_that_is_not_over_is_known_what_was_shown_of_its_treatments_and_no_more() -> None:
    over = event(1, clear="2026-12-24", skipped=True)
    said = {name: value for name, value in over.data.model_dump().items() if name in Settled.model_fields}
    shown = Treatment(name="drench", withheld_until="2026-12-24")
    settled = over.model_copy(update={"data": Settled.model_validate(said | {"treatments": (shown,), "flags": ()})})
    past = Past.of([settled])
    assert past.shown(weighing(1).weighing).unsaid == {"drench": shown}
    assert past.doses("a", LATER) == [], "it may yet be said to be another's"
    past.add(over)
    past.add(settled)  # come late
    assert past.shown(weighing(1).weighing).unsaid["drench"].skipped


def test_one_that_is_made_anew_counts_for_nobody_until_it_is_there() -> None:
    first, second = event(1, 2, clear="2026-12-01"), event(1, 3, animal="b", clear="2026-12-01")
    past = Past.of([first, event(2)])
    for other in (event(1, 1), event(3), link_state(1)):  # an earlier revision, one that is new, none at all
        past.leave(other)
    assert past.clear_from("a", LATER) == "2026-12-01"
    past.leave(second)
    assert (past.clear_from("a", LATER), len(past.weights("a"))) == (None, 1)
    past.add(second)
    assert (past.clear_from("a", LATER), past.clear_from("b", LATER)) == (None, "2026-12-01")
    past.leave(second)
    past.add(first)
    past.add(second)
    assert (past.clear_from("a", LATER), past.clear_from("b", LATER)) == (None, "2026-12-01"), "as often as one likes"
