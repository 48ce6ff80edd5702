"""What stations carry from run to run, written by its changes: nothing forgotten, and little written."""

import json
import string
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Clock, Stamp, Weighing
from neckyoke.bridge.journal.station_memory import Carried, Run
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.station import Station
from neckyoke.protocols.readings import WeightReading
from tests.support.events import DAY, weighing

TAGS = st.sampled_from([f"999{number:012d}" for number in range(6)])
JOBS = st.sampled_from(["", "job 1", "job 2"])
SECONDS = st.floats(0.1, 99.0).map(lambda s: round(s, 1))
MEMORY = st.builds(
    Memory,
    number=st.integers(0, 9),
    zero_kg=st.none() | st.floats(-5, 5).map(lambda kg: round(kg, 2)),
    visits=st.lists(st.tuples(SECONDS, SECONDS, st.none() | st.integers(30, 900).map(float)), max_size=20).map(tuple),
    habits=st.dictionaries(
        st.sampled_from(["race", "gate"]), st.dictionaries(st.sampled_from(["share"]), st.just(0.4))
    ),
    weighed=st.dictionaries(
        JOBS, st.dictionaries(TAGS, st.text(string.ascii_lowercase, min_size=1, max_size=4), min_size=1)
    ),
)
MEMORIES = st.fixed_dictionaries({"crush": MEMORY, "race": MEMORY})


def write(journal: dict[str, str], changes: dict[str, str | None]) -> None:
    for name, body in changes.items():
        if body is None:
            del journal[name]
        else:
            journal[name] = body


@given(days=st.lists(MEMORIES, min_size=1, max_size=5), restarts=st.sets(st.integers(0, 4)))
def test_the_journal_always_knows_the_last_memory(days: list[dict[str, Memory]], restarts: set[int]) -> None:
    journal = {"unclocked/boot": "another's value"}
    carried = Carried(journal)
    for day, memories in enumerate(days):
        if day in restarts:
            carried = Carried(journal)
        write(journal, carried.changes(memories))
        assert carried.changes(memories) == {}
        for station, memory in memories.items():
            assert Carried(journal).memory(station) == memory
    assert journal["unclocked/boot"] == "another's value"


def test_a_station_never_heard_of_remembers_nothing() -> None:
    assert Carried({}).memory("crush") == Memory()


def test_a_station_no_longer_in_the_configuration_is_left_alone() -> None:
    journal: dict[str, str] = {}
    write(journal, Carried(journal).changes({"race": Memory(number=4, weighed={"": {"999000000000001": "w"}})}))
    assert Carried(journal).changes({"crush": Memory()}).keys() == {"memory/crush"}


def test_a_large_mob_costs_no_more_for_the_next_animal() -> None:
    weighed = {f"999{number:012d}": f"weighing-{number}" for number in range(5000)}
    carried = Carried({})
    carried.changes({"crush": Memory(number=5000, weighed={"j": weighed})})
    weighed |= {"999000000009999": "weighing-5000"}
    more = carried.changes({"crush": Memory(number=5001, weighed={"j": weighed})})
    assert sum(len(name) + len(body or "") for name, body in more.items()) < 200


def test_an_interrupted_stay_has_had_its_number_and_its_tag() -> None:
    """It settled and the run died: the next animal must not get its number, nor its tag pass for unweighed."""
    stay = weighing(7)
    assert stay.tag is not None
    before = Memory(number=6, weighed={"": {"999000000000001": "w"}})
    journal: dict[str, str] = {}
    write(journal, Carried(journal).changes({"crush": before}))

    def begun_with(left: Weighing) -> Memory:
        return Carried(journal, {"crush": left.model_dump_json()}).memory("crush")

    memory = begun_with(stay)

    assert memory.number == 7
    assert memory.weighed == {"": {"999000000000001": "w", stay.tag.id: stay.weighing}}
    assert begun_with(weighing(3)).number == 6

    bare = stay.model_copy(update={"tag": None})
    assert begun_with(bare).weighed == {"": {"999000000000001": "w", bare.weighing: bare.weighing}}


INTERRUPTED = weighing(7).model_dump(mode="json")


@pytest.mark.parametrize(
    ("boot", "away_s"),
    [("a", 40.0), ("b", None), ("unknown", None)],
    ids=["same boot", "another boot", "no boot known"],
)
def test_how_long_the_box_was_away_is_known_within_one_boot(boot: str, away_s: float | None) -> None:
    journal: dict[str, str] = {}
    stay = weighing(7)
    offset = stay.off.timestamp() - 110.0  # it was last seen 110 s after the boot
    write(journal, Carried(journal, run=Run(boot, 100.0)).changes({"crush": Memory(number=7)}))
    seen = replace(Platform(Settings("larkmoor", "crush", "indicator"), Memory()).view, stood_kg=317.5, leaves=True)
    rows = Carried(journal, run=Run(boot, 100.0)).open_stays({"crush": stay, "race": None}, offset, {"crush": seen})
    assert rows["race"] is None
    assert rows["crush"] is not None

    carried = Carried(journal, {"crush": rows["crush"]}, Run("a" if boot == "b" else boot, 150.0))

    memory = carried.memory("crush")
    assert (memory.interrupted, memory.away_s, memory.stood_kg, memory.leaves) == (INTERRUPTED, away_s, 317.5, True)
    assert carried.left["crush"].weighing == stay
    assert carried.left["crush"].offset == (None if away_s is None else pytest.approx(offset))
    write(journal, carried.changes({"crush": carried.memory("crush")}))  # and stopped once more before it is known
    again = Carried(journal, run=Run("a" if boot == "b" else boot, 170.0)).memory("crush")
    assert (again.interrupted, again.away_s) == (INTERRUPTED, None if away_s is None else away_s + 20.0)
    assert (again.stood_kg, again.leaves) == (317.5, True)


def test_a_stay_kept_by_an_older_version_is_read() -> None:
    carried = Carried({}, {"crush": weighing(7).model_dump_json()}, Run("a", 150.0))
    assert carried.left["crush"].weighing == weighing(7)
    assert carried.left["crush"].seen_s is None
    assert carried.unread == []


@pytest.mark.parametrize("body", ["", "[]", "{}", "7", '{"weighing": {}}', '{"weighing": "w"}', '{"weighing": null}'])
def test_a_stay_that_makes_no_sense_is_said_and_passed(body: str) -> None:
    carried = Carried({}, {"crush": body, "race": weighing(7).model_dump_json()})
    assert carried.unread == ["crush"]
    assert [*carried.left] == ["race"]
    assert carried.memory("crush") == Memory()


def test_an_open_stay_is_written_when_it_begins_and_each_time_it_has_lasted_half_as_long_again() -> None:
    settings = Settings("larkmoor", "crush", "indicator")
    station = Station(settings, lambda t: Stamp(DAY + timedelta(seconds=t), Clock.SYNCHRONISED), Memory())
    carried = Carried({})
    written = []
    for n in range(400):
        t = n / 10
        station.feed(t, "indicator", WeightReading(318.0 if 20 <= n < 360 else 0.0))
        due, with_memory = carried.due(t, {"crush": station})
        if due or with_memory:
            written.append((due, with_memory, round(t - 2.0, 1)))
    assert written == [(["crush"], at_s == 0.7, at_s) for at_s in (0.7, 1.1, 1.7, 2.6, 3.9, 5.9, 8.9, 13.4, 20.1, 30.2)]


def test_the_visit_before_a_stay_is_known_to_the_journal_as_the_stay_begins() -> None:
    settings, stamp = Settings("larkmoor", "crush", "indicator"), Stamp(DAY, Clock.SYNCHRONISED)
    carried, journal = Carried({}), dict[str, str]()
    station = Station(settings, lambda _: stamp, Memory())
    for n in range(170):
        t = n / 10
        station.feed(t, "indicator", WeightReading(318.0 if 20 <= n < 100 or n >= 140 else 0.0))
        if carried.due(t, {"crush": station})[1]:
            write(journal, carried.changes({"crush": station.memory}))
    (visit,) = Carried(journal).memory("crush").visits
    assert [*visit] == [8.0, 12.0, pytest.approx(318.0)]


def test_a_memory_kept_by_an_older_version_is_taken_over_and_knows_no_visits() -> None:
    older = json.dumps({"number": 41, "zero_kg": 0.5, "habits": {"race": {"share": 0.4}}})
    carried = Carried({"memory/crush": older})
    memory = carried.memory("crush")
    assert memory == Memory(number=41, zero_kg=0.5, habits={"race": {"share": 0.4}})
    assert carried.changes({"crush": memory}) == {}, "nothing to write before anything happened"


def test_it_is_written_too_that_a_stay_left_open_does_not_go_on() -> None:
    settings = Settings("larkmoor", "crush", "indicator")
    journal: dict[str, str] = {}
    write(journal, Carried({}).changes({"crush": Memory(interrupted=INTERRUPTED)}))
    carried = Carried(journal)
    stamp = Stamp(DAY, Clock.SYNCHRONISED)
    station = Station(settings, lambda _: stamp, carried.memory("crush"))
    waits = carried.due(0.0, {"crush": station})
    station.feed(0.1, "indicator", WeightReading(0.0))
    assert (waits, carried.due(0.1, {"crush": station})) == (([], False), ([], True))
    write(journal, carried.changes({"crush": station.memory}))
    assert carried.due(0.2, {"crush": station}) == ([], False)
    assert Carried(journal).memory("crush").interrupted is None


def job(name: str, turn: int) -> dict[str, object]:
    return {"id": name, "turn": turn, "standing": "open", "sheets": []}


TWO_JOBS = {
    "open": "job 1",
    "named": None,
    "now": 7,
    "turn": 2,
    "jobs": {"job 1": job("job 1", 1), "job 2": job("job 2", 2)},
    "base": {"now": 3, "jobs": {}},
    "log": {"3": "[1.5]", "4": "[2.5]"},
}


def test_what_had_a_later_number_than_the_stay_that_was_left_open_is_a_part_of_it() -> None:
    """The box had stopped in it before: what stood there afterwards had a number, and was told as one with it."""
    journal: dict[str, str] = {}
    write(journal, Carried(journal).changes({"crush": Memory(number=9, jobs={**TWO_JOBS, "parts": [2]})}))
    for left, parts in ((7, [2, 8, 9]), (9, [2])):
        memory = Carried(journal, {"crush": weighing(left).model_dump_json()}).memory("crush")
        assert (memory.number, memory.jobs["parts"]) == (9, parts)


def test_jobs_are_kept_each_by_itself_and_what_happened_line_by_line() -> None:
    """A card wears by what is written: what changes with each animal is short."""
    journal: dict[str, str] = {}
    weighed = {"job 1": {"999000000000001": "w1"}, "job 2": {"999000000000001": "w2"}}
    memory = Memory(number=7, weighed=weighed, jobs=TWO_JOBS)
    carried = Carried(journal)
    write(journal, carried.changes({"crush": memory}))
    known = Carried(journal).memory("crush")
    assert known == memory
    assert list(known.jobs["jobs"]) == ["job 1", "job 2"]
    assert list(known.weighed) == ["job 2", "job 1"], "the present one last"
    assert json.loads(journal["jobs/crush"]) == {"open": "job 1", "named": None, "now": 7, "turn": 2}

    later = {**TWO_JOBS, "now": 8, "log": {"4": "[2.5]", "5": "[3.5]"}}
    changes = carried.changes({"crush": Memory(number=7, weighed=weighed, jobs=later)})
    assert changes.keys() == {"jobs/crush", "jobs-log/crush/3", "jobs-log/crush/5"}
    assert (changes["jobs-log/crush/3"], changes["jobs-log/crush/5"]) == (None, "[3.5]")
    write(journal, changes)
    assert Carried(journal).memory("crush").jobs == later


def test_jobs_come_in_the_order_of_their_turns_and_those_let_go_take_their_animals_along() -> None:
    journal: dict[str, str] = {}
    jobs = {"open": None, "now": 7, "jobs": {"a": job("a", 3), "b": job("b", 1), "c": job("c", 2)}}
    weighed = {name: {"999000000000001": f"w-{name}"} for name in ("a", "b", "c", "of long ago")}
    write(journal, Carried(journal).changes({"crush": Memory(weighed=weighed, jobs=jobs)}))
    known = Carried(journal).memory("crush")
    assert list(known.jobs["jobs"]) == list(known.weighed) == ["b", "c", "a"]
    assert "base" not in known.jobs, "nothing that happened was kept"


def test_a_number_that_an_open_stay_has_is_the_last_that_its_jobs_know() -> None:
    journal: dict[str, str] = {}
    carried = Carried(journal)
    write(journal, carried.changes({"crush": Memory(number=7, jobs=TWO_JOBS)}))
    open_stays = carried.open_stays({"crush": weighing(9)}, 0.0)
    known = Carried(journal, {name: body for name, body in open_stays.items() if body}).memory("crush")
    assert (known.number, known.jobs["now"]) == (9, 9)
