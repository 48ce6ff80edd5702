"""What stations carry from run to run, written by its changes: nothing forgotten, and little written."""

import string

from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.journal.station_memory import Carried
from neckyoke.bridge.station.settings import Memory
from tests.support.events import weighing

TAGS = st.sampled_from([f"999{number:012d}" for number in range(6)])
MEMORY = st.builds(
    Memory,
    number=st.integers(0, 9),
    zero_kg=st.none() | st.floats(-5, 5).map(lambda kg: round(kg, 2)),
    habits=st.dictionaries(
        st.sampled_from(["race", "gate"]), st.dictionaries(st.sampled_from(["share"]), st.just(0.4))
    ),
    weighed=st.dictionaries(TAGS, st.text(string.ascii_lowercase, min_size=1, max_size=4)),
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
    write(journal, Carried(journal).changes({"race": Memory(number=4, weighed={"999000000000001": "w"})}))
    assert Carried(journal).changes({"crush": Memory()}).keys() == {"memory/crush"}


def test_a_large_mob_costs_no_more_for_the_next_animal() -> None:
    weighed = {f"999{number:012d}": f"weighing-{number}" for number in range(5000)}
    carried = Carried({})
    carried.changes({"crush": Memory(number=5000, weighed=weighed)})
    more = carried.changes({"crush": Memory(number=5001, weighed={**weighed, "999000000009999": "weighing-5000"})})
    assert sum(len(name) + len(body or "") for name, body in more.items()) < 200


def test_an_interrupted_stay_has_had_its_number_and_its_tag() -> None:
    """It settled and the run died: the next animal must not get its number, nor its tag pass for unweighed."""
    stay = weighing(7)
    assert stay.tag is not None
    before = Memory(number=6, weighed={"999000000000001": "w"})
    journal: dict[str, str] = {}
    write(journal, Carried(journal).changes({"crush": before}))

    memory = Carried(journal).memory("crush", stay)

    assert memory.number == 7
    assert memory.weighed == {"999000000000001": "w", stay.tag.id: stay.weighing}
    assert Carried(journal).memory("crush", weighing(3)).number == 6

    bare = stay.model_copy(update={"tag": None})
    assert Carried(journal).memory("crush", bare).weighed == {"999000000000001": "w", bare.weighing: bare.weighing}
