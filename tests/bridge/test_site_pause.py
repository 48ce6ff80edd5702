"""A pause forgotten over forty tagged animals: it is said once, and a word counts them all in, doses and pens included.

The yard and its truth are the simulator's; the reference is the same day without the pause.
"""

from pathlib import Path
from typing import Any

from neckyoke.bridge.events import Flag
from neckyoke.bridge.telling.status import PassedStatus
from neckyoke.simulators.yard import Yard
from tests.support.crush import STEERS, Crush

YARD = Yard.named("calm", seed=8, animals=42)
SHEET = STEERS + '[[draft]]\npen = "heavy"\nat_least_kg = 400\n[[draft]]\npen = "rest"\n'
APART = {"revision": 0, "why": None}


def day(folder: Path, *, paused: bool, stopped: bool = False, last: int = 42) -> Crush:
    crush = Crush(folder, yard=YARD)
    crush.say("begin", text=SHEET)
    crush.weigh(0, 2)
    if paused:
        crush.say("pause")
    else:
        crush.wait(1.0)
    if last > 2:
        crush.weigh(2, last)
    crush = crush.stopped() if stopped else crush
    if paused:
        assert all(Flag.PAUSED in crush.latest[n].flags and not crush.latest[n].treatments for n in range(3, 43))
        answer = crush.say("resume", **{"from": 3})
        assert "40 animals taken in" in answer.text
    return crush


def figures(crush: Crush) -> list[dict[str, Any]]:
    rows = (one.model_copy(update=APART) for _, one in sorted(crush.latest.items()))
    return [one.model_dump(mode="json", exclude={"animal", "final", "final_at"}) for one in rows]


def test_a_pause_forgotten_over_forty_animals_is_mended_by_one_word(tmp_path: Path) -> None:
    crush = day(tmp_path, paused=True)
    told = crush.attentions("paused")
    assert [one.over for one in told] == [False, True], "it is said once, and its end once"
    assert "resume --from 3" in told[0].text
    assert figures(crush) == figures(day(tmp_path, paused=False))
    assert {one.pen for one in crush.latest.values()} == {"heavy", "rest"}
    assert all(one.settled and one.treatments[0].amount for one in crush.latest.values())


def test_the_status_says_who_passed_until_they_are_counted_in(tmp_path: Path) -> None:
    crush = day(tmp_path, paused=False, last=2)
    crush.say("pause")
    crush.weigh(2, 5)
    crush = crush.stopped()
    jobs = crush.site.jobs["crush"]

    def passed() -> PassedStatus | None:
        assert jobs.jobs.open is not None
        return jobs.passed.of(jobs.jobs.open)

    assert passed() == PassedStatus(animals=3, others=0, first=3)
    crush.say("void", number=3)
    assert passed() == PassedStatus(animals=2, others=0, first=4), "who was struck out is no animal"
    crush.say("identify", number=5)
    assert passed() == PassedStatus(animals=1, others=1, first=4), "nor is one without a tag"
    asked = crush.say("resume", **{"from": 4}).asked
    assert passed() is None
    crush.say("undo", asked=asked)
    assert passed() == PassedStatus(animals=1, others=1, first=4)


def test_a_word_on_one_that_passed_in_a_pause_that_is_over_says_nothing_of_a_pause(tmp_path: Path) -> None:
    crush = day(tmp_path, paused=False, last=2)
    crush.say("pause")
    crush.weigh(2, 4)
    crush.say("resume")
    crush.say("note", number=3, text="limps")
    assert [one.over for one in crush.attentions("paused")] == [False, True]


def test_it_is_mended_after_a_stop_too(tmp_path: Path) -> None:
    crush = day(tmp_path, paused=True, stopped=True)
    assert [one.job_number for _, one in sorted(crush.latest.items())] == [*range(1, 43)]
    plain = day(tmp_path, paused=False)
    for number, one in crush.latest.items():
        assert [dose.amount for dose in one.treatments] == [dose.amount for dose in plain.latest[number].treatments]
        assert one.pen == plain.latest[number].pen
