"""The jobs of a site from bytes and words to events: two on one day, a pause forgotten, a stop in between.

What a job is, is our own (`neckyoke help tell`); the yard and its truth are the simulator's.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Clock, Flag, Stamp, Weighing
from neckyoke.bridge.site.site import Site
from tests.support.crush import LAMBS, STARTED, STEERS, Crush


def numbers(crush: Crush) -> dict[int, tuple[int | None, str | None]]:
    return {number: (one.job_number, one.sheet) for number, one in sorted(crush.latest.items())}


def test_two_mobs_on_one_day_are_two_jobs_each_from_one(tmp_path: Path) -> None:
    crush = Crush(tmp_path)
    begun = crush.say("begin", text=STEERS, file="steers.toml")
    assert begun.text == "Job 1, Steers, begun 15:11."
    crush.weigh(0, 3)
    second = crush.say("begin", file="lambs.toml")
    assert second.text.startswith("Job 2, Lambs, begun 15:")
    assert "Job 1, Steers, has ended with 3 stays." in second.text
    crush.weigh(3)
    assert numbers(crush) == {
        **{n: (n, "Steers") for n in (1, 2, 3)},
        **{n: (n - 3, "Lambs") for n in (4, 5, 6)},
    }
    assert [bool(crush.latest[n].treatments) for n in (1, 4)] == [True, False]
    ended = [one for one in crush.jobs if one.turn == 1][-1]
    assert (ended.state, ended.turn, ended.timezone) == ("ended", 1, "Pacific/Auckland")
    assert ended.tally is not None
    assert (ended.tally.animals, ended.tally.treatments[0].given) == (3, 3)
    assert len({one.weighing for one in crush.latest.values()}) == 6


@pytest.mark.parametrize("way", ["redated", "filled"])
def test_an_animal_that_the_box_stopped_under_is_one_stay_of_its_job(way: str, tmp_path: Path) -> None:
    crush = Crush(tmp_path)
    crush.say("begin", text=STEERS)
    crush.weigh(0, 2)
    crush.on(2)
    crush.events += crush.site.finish(crush.t)
    memory = replace(crush.site.memories["crush"], away_s=1.0)
    again = Crush(tmp_path, memory, run=1, before=crush)
    left = next(one for one in reversed(crush.events) if isinstance(one.data, Weighing))
    assert isinstance(left.data, Weighing)
    redated = left.model_copy(update={"data": left.data.model_copy(update={"revision": 2})})
    again.events += getattr(again.site, way)(redated)  # the clock becomes known, or somebody says something of it
    stay = again.yard.truth[2]
    again._feed(stay.leave_t - 2.0, stay.off_t + 1)  # it still stands there
    again.weigh(3, 5)
    assert {one.number: one.revision for one in again.latest.values()} == {1: 1, 2: 1, 3: 3, 5: 1, 6: 1}
    stopped = Crush(tmp_path, again.site.memories["crush"], run=2, before=again)
    assert "has ended with 5 stays." in stopped.say("end").text
    (tally,) = (one.tally for one in stopped.jobs if one.tally is not None)
    assert (tally.animals, tally.weighings) == (5, 5)


def test_a_job_that_ended_says_whose_it_was_and_how_it_went_in_a_dozen_lines(tmp_path: Path) -> None:
    crush = Crush(tmp_path)
    crush.say("begin", text=f'mob = "yearlings"\n{STEERS}')
    crush.weigh()
    crush.say("end")
    begun, ended = crush.jobs[0], crush.jobs[-1]
    assert (begun.mob, begun.summary, ended.mob) == ("yearlings", (), "yearlings")
    assert ended.summary[0].startswith("Steers, yearlings, job 1, crush, 2026-11-24 15:1")
    assert ended.summary[1] == "6 animals."
    assert ended.tally is not None
    assert ended.summary[2].startswith(f"Mean {ended.tally.mean_kg:.1f} kg over 6, ")
    assert any(line.startswith("drench: 6 given, ") for line in ended.summary)
    before = len(crush.jobs)
    crush.say("void", job_number=2, reason="two at once")
    assert crush.jobs[before].revision == ended.revision + 1
    assert crush.jobs[before].summary[1] == "5 animals."


def test_the_mornings_doses_do_not_come_back_in_the_afternoon_by_themselves(tmp_path: Path) -> None:
    crush = Crush(tmp_path)
    crush.say("sheet", text=STEERS)
    crush.weigh(0, 2)
    crush.say("end")
    crush.weigh(2, 4)
    assert numbers(crush)[2] == (2, "Steers")
    assert numbers(crush)[3] == (1, None)
    (which,) = crush.attentions("which-sheet")
    assert "Which sheet?" in which.text
    answer = crush.say("sheet", file="lambs.toml")
    assert "'Lambs' holds from the next animal on: job 2, Lambs" in answer.text
    crush.weigh(4)
    assert numbers(crush)[5] == (3, "Lambs")
    assert crush.attentions("which-sheet")[-1].over


def test_a_sheet_job_count_and_pause_are_the_same_after_a_stop(tmp_path: Path) -> None:
    crush = Crush(tmp_path)
    crush.say("begin", text=STEERS)
    crush.weigh(0, 2)
    crush.say("pause")
    back = crush.stopped()
    assert [(job.standing, job.turn) for job in back.site.jobs["crush"].jobs] == [("paused", 1)]
    back.weigh(2, 3)
    assert (back.latest[3].job, back.latest[3].flags[-1]) == (None, Flag.PAUSED)
    back.say("resume")
    again = back.stopped()
    again.weigh(3, 4)
    assert numbers(again)[4] == (3, "Steers")
    assert again.latest[4].treatments[0].name == "drench"
    assert len({one.job for one in again.latest.values() if one.job}) == 1


def test_a_pause_forgotten_is_said_and_everything_since_is_counted_in(tmp_path: Path) -> None:
    crush = Crush(tmp_path)
    crush.say("begin", text=STEERS)
    crush.weigh(0, 2)
    crush.say("pause")
    crush.weigh(2)
    (said,) = crush.attentions("paused")
    assert "resume --from 3" in said.text
    assert all(crush.latest[n].treatments == () for n in range(3, 7))
    answer = crush.say("resume", **{"from": 3})
    assert "4 animals taken in" in answer.text
    assert numbers(crush) == {n: (n, "Steers") for n in range(1, 7)}
    assert all(one.treatments[0].amount for one in crush.latest.values())
    assert not any(Flag.PAUSED in one.flags for one in crush.latest.values())
    assert crush.attentions("paused")[-1].over


def test_who_comes_twice_is_a_repeat_in_the_job_and_none_in_the_next(tmp_path: Path) -> None:
    crush = Crush(tmp_path).weigh(0, 2).weigh(0, 2)
    assert [Flag.REPEAT in crush.latest[n].flags for n in (1, 2, 3, 4)] == [False, False, True, True]
    crush.say("begin")
    crush.weigh(0, 2)
    assert not any(Flag.REPEAT in crush.latest[n].flags for n in (5, 6))
    crush.say("resume", job="1")
    crush.weigh(0, 1)
    assert Flag.REPEAT in crush.latest[7].flags, "it is the first job again"


def test_a_job_that_saw_nothing_for_four_hours_has_ended_and_can_be_opened_again(tmp_path: Path) -> None:
    crush = Crush(tmp_path).weigh(0, 2)
    crush.wait(4 * 3600 + 120)
    assert crush.jobs[-1].state == "ended"
    assert "tell resume opens it again" in crush.attentions("job")[-1].text
    crush.weigh(2, 4)
    assert numbers(crush)[3] == (1, None)
    answer = crush.say("resume", job="1")
    assert "2 animals taken in" in answer.text
    assert [numbers(crush)[n][0] for n in (1, 2, 3, 4)] == [1, 2, 3, 4]


def test_a_late_word_amends_the_tally_of_a_job_that_has_ended(tmp_path: Path) -> None:
    crush = Crush(tmp_path).weigh(0, 3)
    crush.say("end")
    before = crush.jobs[-1]
    crush.say("void", number=2, reason="two on it")
    after = crush.jobs[-1]
    assert before.tally is not None
    assert after.tally is not None
    assert (after.job, after.revision) == (before.job, before.revision + 1)
    assert (before.tally.animals, after.tally.animals, after.tally.voided) == (3, 2, 1)


@pytest.mark.parametrize(
    "word", [{"kind": "pause"}, {"kind": "end"}, {"kind": "begin"}, {"kind": "sheet", "text": LAMBS}]
)
def test_a_word_on_the_job_taken_back_leaves_all_as_if_it_had_not_been(tmp_path: Path, word: dict[str, str]) -> None:
    def day(*, said: bool) -> Crush:
        crush = Crush(tmp_path)
        crush.say("begin", text=STEERS)
        crush.weigh(0, 2)
        if said:
            asked = crush.say(**word).asked
            crush.t -= 1.0
        crush.weigh(2, 4)
        if said:
            assert crush.say("undo", asked=asked).done
            crush.t -= 1.0
        return crush.weigh(4)

    plain, back = day(said=False), day(said=True)
    apart = {"revision": 0, "why": None}
    for number, one in plain.latest.items():
        assert back.latest[number].model_copy(update=apart).model_dump() == one.model_copy(update=apart).model_dump()


def test_what_cannot_be_done_is_refused_in_words(tmp_path: Path) -> None:
    crush = Crush(tmp_path)
    told = [crush.say(kind).text for kind in ("pause", "end", "resume")]
    assert told == ["No job is open, so there is nothing to pause.", "No job is open.", "There was no job yet."]
    assert "lamb.toml" in crush.say("begin", file="lamb.toml").text
    assert not crush.say("undo", asked="nobody").done
    assert crush.jobs == []


def test_the_property_s_name_of_the_configuration_stands_on_its_jobs(tmp_path: Path) -> None:
    crush = Crush(tmp_path)
    path = tmp_path / "neckyoke.toml"
    path.write_text(f'property_name = "Larkmoor Downs"\n{path.read_text()}')
    site = Site(load_config(path), started=STARTED, stamp=lambda _: Stamp(STARTED, Clock.SYNCHRONISED))
    crush.site.jobs["crush"].place_name = site.jobs["crush"].place_name
    crush.say("begin", bare=True)
    assert crush.jobs[-1].property_name == "Larkmoor Downs"
