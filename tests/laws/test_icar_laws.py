"""A receiver that knows only ICAR, given any exports of any day, ends with what our own newest revisions say."""

import json
from functools import cache
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Flag, Treatment
from neckyoke.bridge.reports.icar.told import Told
from neckyoke.bridge.reports.reading import known_as
from neckyoke.bridge.reports.tally import tally
from tests.bridge.reports.icar.receiver import COLLECTIONS, Receiver, validator
from tests.bridge.reports.stays import make_event
from tests.days.compare import replayed

DOSES = st.lists(
    st.builds(
        Treatment,
        name=st.sampled_from(["oral drench", "vaccine"]),
        amount=st.sampled_from([None, 2.0, 30.0]),
        unit=st.just("mL"),
        skipped=st.booleans(),
    ),
    max_size=2,
    unique_by=lambda one: one.name,
)
REVISION = st.tuples(
    st.integers(1, 4),  # the weighing
    st.sampled_from([None, "999000000000001", "999000000000002", "999000000000003"]),
    st.sampled_from([None, 280.0, 300.0]),
    DOSES,
    st.sampled_from([(), (), (), (Flag.VOIDED,), (Flag.PAUSED,)]),
    st.sampled_from([None, "1", "2"]),
)


def revisions(drawn: list[Any]) -> list[dict[str, Any]]:
    """Spell what was drawn as events, each weighing's revisions numbered on."""
    made, count = [], dict.fromkeys(range(1, 5), 0)
    for number, tag, kg, doses, flags, pen in drawn:
        count[number] += 1
        event = make_event(number, kg, tag, treatments=doses, flags=flags, pen=pen, revision=count[number])
        made.append(json.loads(event.to_json()))
    return made


def export(events: list[dict[str, Any]]) -> list[dict[str, Any]]:
    told = Told("1.3")
    told.add(events)
    return [one for farm in told.farms for members in told.resources(farm).values() for one in members]


def newest(events: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {one["data"]["weighing"]: one["data"] for one in events if one["type"] == "neckyoke.weighing"}


def standing(events: list[dict[str, Any]], *, struck: bool = False) -> list[dict[str, Any]]:
    """The plain reference: of each weighing the newest revision, where nobody struck it out and it has a tag."""
    gone = {"paused"} if struck else {"voided", "paused"}
    return [data for data in newest(events).values() if data["tag"] and not gone & {*data["flags"]}]


@given(st.lists(REVISION, min_size=1, max_size=14), st.sets(st.integers(1, 13)), st.randoms(use_true_random=False))
def test_any_exports_on_the_way_end_in_the_newest_weights_and_doses(drawn: Any, exports: set[int], order: Any) -> None:
    events = revisions(drawn)
    receiver = Receiver()
    for end in sorted(exports | {len(events)}):
        receiver.take(export(events[:end]))
    again = export([*events, *events[:3]])
    order.shuffle(again)
    receiver.take(again)

    want = sorted(standing(events), key=lambda data: data["settled"])
    weights = {data["tag"]["id"]: data["weight"]["kg"] for data in want if data["weight"]["kg"] is not None}
    assert receiver.newest_weights() == weights
    given_doses = [
        (data["tag"]["id"], one["name"], one["amount"])
        for data in standing(events, struck=True)  # a dose counts also where its weighing was struck out
        for one in data["treatments"]
        if not one["skipped"]
    ]
    assert receiver.doses() == sorted(given_doses, key=str)
    pens: dict[str, set[str]] = {}
    for data in want:
        if data["pen"]:
            pens.setdefault(data["pen"], set()).add(data["tag"]["id"])
    found = {one["name"]: {m["id"] for m in one["member"]} for one in receiver.of("icarAnimalSetResource")}
    assert found == pens


@cache
def committed() -> list[dict[str, Any]]:
    """The committed day as it is published: 60 animals, with notes, skips, wrong tags put right and one struck out."""
    return [json.loads(event.to_json()) for event in replayed()[1]]


def test_the_committed_day_ends_as_our_own_tally_counts_it_up() -> None:
    events = committed()
    receiver = Receiver()
    for end in (*range(20, len(events), 20), len(events)):
        receiver.take(export(events[:end]))
    ours = tally(events)
    weights = receiver.newest_weights()
    groups = receiver.of("icarGroupWeightEventResource")
    every = [*weights.values(), *(one["weight"] for group in groups for one in group["animalWeights"])]
    assert (len(every), round(sum(every) / len(every), 6)) == (ours.weight.count, round(ours.weight.mean or 0, 6))
    unknown = [data for data in newest(events).values() if known_as(data) is None]
    for name, used in ours.treatments.items():
        doses = [amount for _, medicine, amount in receiver.doses() if medicine == name]
        given = [one["name"] for data in unknown for one in data["treatments"] if not one["skipped"]]
        assert len(doses) == used.given - given.count(name)
    told = sum(len(one["meta"]) > 4 for one in receiver.kept.values())
    assert told, "something was taken back on the way"


def test_the_committed_day_keeps_the_schemas() -> None:
    for release in ("1.3", "1.4"):
        told = Told(release)
        told.add(committed())
        for kind, members in told.resources("larkmoor").items():
            assert kind in COLLECTIONS
            validator(release, kind).validate({"member": members})
