"""No weighing's id is ever given twice and `number` never restarts: over jobs, jobs gone on with, and stops.

What an id and a number are is our own (README, "In the yards").
"""

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.events import Weighing
from tests.support.crush import STEERS, Crush

STEPS = st.lists(
    st.sampled_from(["weigh", "weigh", "begin", "end", "pause", "resume", "resume 1", "undo", "stop"]), max_size=9
)


@settings(deadline=None, max_examples=12)
@given(STEPS)
def test_ids_and_numbers_go_on_whatever_becomes_of_the_jobs(steps: list[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        crush, stays = Crush(Path(folder)), 0
        crush.say("begin", text=STEERS)
        for at, step in enumerate(steps):
            match step:
                case "weigh":
                    crush.weigh(at % 6, at % 6 + 1)
                    stays += 1
                case "stop":
                    crush = crush.stopped()
                case "resume 1":
                    crush.say("resume", job="1")
                case _:
                    crush.say(step)
        weighings = [event.data for event in crush.events if isinstance(event.data, Weighing)]
        numbers = {one.weighing: one.number for one in weighings}
        assert sorted(numbers.values()) == [*range(1, stays + 1)]
        assert len({(one.weighing, one.revision) for one in weighings}) == len(weighings)
        places = [(one.job, one.job_number) for one in crush.latest.values() if one.job is not None]
        assert len(set(places)) == len(places), "nor is a number in a job"
