"""What was seen and what was given, said at the crush and later: findings, pens by them, doses mended."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.asking.requests import Answer, Refusal, parse_request
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Clock, Settled, Stamp, Weighing
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.load import load_job
from neckyoke.bridge.site.site import Site
from neckyoke.bridge.station.settings import Memory
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG
from tests.support.sheets import one

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
YARD = Yard.named("calm", seed=8, animals=2)
FIRST, SECOND = YARD.truth
SHEET = """
title = "Preg testing"
[[findings]]
name = "pregnant"
yes_no = true
needed = true
[[findings]]
name = "condition"
choices = [1, 2, 3, 4, 5]
usual = 3
[[findings]]
name = "signs"
choices = ["lame", "eye", "thin"]
several = true
[[treatments]]
name = "oral drench"
ml_per_kg = 0.1
round_to_ml = 5
batch = "B7"
expires = 2027-01-31
withhold_days = 28
[[treatments]]
name = "copper"
amount = 1
unit = "bolus"
withhold_days = 0
[[draft]]
pen = "in calf"
match = { pregnant = "yes" }
[[draft]]
pen = "thin"
match = { condition = [1, 2] }
[[draft]]
pen = "empty"
"""


class Crush:
    """A site at a moment of the day: `to` lets time pass, `say` asks."""

    def __init__(self, folder: Path, memory: Memory | None = None) -> None:
        path = folder / "neckyoke.toml"
        path.write_text(CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002"))
        (folder / "sheet.toml").write_text(SHEET)
        job = load_job(folder / "sheet.toml", STARTED.date())
        self.site = Site(
            load_config(path),
            started=STARTED,
            stamp=lambda t: Stamp(STARTED + timedelta(seconds=t), Clock.UNKNOWN),
            memories={"crush": memory or Memory()},
            clerk=lambda jobs: Clerk(one(job.sheet, job.roster, jobs.account)),
        )
        self.t = 0.0
        self.settled: list[Settled] = []
        self.latest: dict[int, Weighing] = {}

    def to(self, t: float) -> "Crush":
        for at, link, data in YARD.items():
            if self.t < at <= t:
                self.keep(self.site.data(at, link, data))
        self.keep(self.site.advance(t))
        self.t = t
        return self

    def keep(self, events: Any) -> None:
        self.settled += [event.data for event in events if isinstance(event.data, Settled)]
        self.latest |= {event.data.number: event.data for event in events if isinstance(event.data, Weighing)}

    def say(self, kind: str, **words: Any) -> Answer:
        request = parse_request({"kind": kind, **words})
        assert not isinstance(request, Refusal), request
        past = self.latest.get(words.get("number", 0)) if self.site.lacks(request) else None
        answer, events = self.site.request(self.t, request, past)
        self.keep(events)
        return answer


@pytest.fixture
def crush(tmp_path: Path) -> Crush:
    """Return the crush with the first animal standing in it, settled."""
    return Crush(tmp_path).to(FIRST.off_t - 1.0)


def found(weighing: Weighing | Settled) -> dict[str, tuple[Any, str]]:
    return {one.name: (one.value, one.by) for one in weighing.findings}


def test_what_is_needed_holds_the_animal_and_its_pen_until_it_is_given(crush: Crush) -> None:
    before = crush.settled[-1]
    assert (before.may_leave, before.missing, before.pen) == (False, ("pregnant",), None)
    assert crush.site.stations["crush"].view.missing == ("pregnant",)
    answer = crush.say("finding", name="pregnant", value=True)
    assert (answer.done, answer.text) == (True, "pregnant: yes at number 1.")
    after = crush.settled[-1]
    assert (after.may_leave, after.missing, after.pen) == (True, (), "in calf")
    assert found(after) == {"pregnant": (True, "person"), "condition": (3, "usual")}
    assert after.findings[0].at == STARTED + timedelta(seconds=crush.t)
    weighing = crush.to(FIRST.off_t + 5).latest[1]
    assert (weighing.pen, weighing.pen_should) == ("in calf", None)
    assert found(weighing) == found(after)


def test_a_finding_taken_back_holds_it_again(crush: Crush) -> None:
    crush.say("finding", name="pregnant", value="no")
    given = crush.settled[-1]
    assert given.pen == "empty"
    answer = crush.say("finding", name="pregnant", value=None)
    assert answer.text == "pregnant: taken back at number 1."
    assert (crush.settled[-1].may_leave, crush.settled[-1].pen) == (False, None)


def test_one_that_comes_later_moves_nobody_on_paper(crush: Crush) -> None:
    crush.say("finding", name="pregnant", value=False)
    crush.to(FIRST.off_t + 5)
    assert crush.latest[1].pen == "empty"
    assert crush.say("finding", name="condition", value=2, number=1).done
    late = crush.latest[1]
    assert (late.pen, late.pen_should, late.revision) == ("empty", "thin", 2)
    assert late.why == "a person said: condition 2"
    crush.say("finding", name="condition", value=3, number=1)
    assert (crush.latest[1].pen, crush.latest[1].pen_should) == ("empty", None)


def test_what_was_never_given_leaves_the_pen_open_and_comes_late(crush: Crush) -> None:
    crush.to(FIRST.off_t + 5)
    assert (crush.latest[1].pen, crush.latest[1].pen_should) == (None, None)
    crush.say("finding", name="pregnant", value=True, number=1)
    assert (crush.latest[1].pen, crush.latest[1].pen_should) == (None, "in calf")


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ({"name": "pregnent", "value": True}, "no finding 'pregnent' on this sheet. Did you mean 'pregnant'?"),
        ({"name": "condition", "value": 6}, "6 is no choice of condition. Known: 1, 2, 3, 4, 5."),
        ({"name": "signs", "value": ["lame", "blue"]}, "'blue' is no choice of signs. Known: eye, lame, thin."),
        ({"name": "pregnant", "value": "perhaps"}, "'perhaps' is neither yes nor no"),
    ],
)
def test_what_the_sheet_does_not_ask_is_refused(crush: Crush, words: dict[str, Any], text: str) -> None:
    answer = crush.say("finding", **words)
    assert (answer.done, answer.text) == (False, text)
    assert found(crush.settled[-1]) == {"condition": (3, "usual")}


def test_several_may_be_chosen(crush: Crush) -> None:
    answer = crush.say("finding", name="Signs", value=["thin", "lame"])
    assert answer.text == "signs: lame, thin at number 1."
    assert found(crush.settled[-1])["signs"] == (("lame", "thin"), "person")


def doses(weighing: Weighing | Settled) -> list[tuple[float | None, str | None, bool]]:
    return [(one.amount, one.batch, one.skipped) for one in weighing.treatments]


@pytest.mark.parametrize("restarted", [False, True])
def test_a_dose_is_mended_skipped_and_given_after_all(crush: Crush, tmp_path: Path, *, restarted: bool) -> None:
    crush.to(FIRST.off_t + 5)
    (amount, _, _), copper = doses(crush.latest[1])
    assert copper == (1.0, None, False)
    if restarted:
        again = Crush(tmp_path, crush.site.memories["crush"])
        again.latest, again.t = crush.latest, crush.t + 60
        crush = again
    answer = crush.say("dose", treatment="drench", amount=40, number=1)
    assert answer.text == "oral drench: 40 mL given to number 1."
    assert doses(crush.latest[1]) == [(40.0, "B7", False), copper]
    assert crush.latest[1].treatments[0].dose_ml == 40.0
    assert crush.latest[1].treatments[0].withheld_until == "2026-12-23"
    assert crush.say("dose", treatment="drench", batch="B8", number=1).text.endswith("given from batch B8 to number 1.")
    assert doses(crush.latest[1]) == [(40.0, "B8", False), copper]
    other = crush.latest[1].treatments[0]
    assert other.expires is None, "the sheet's date is of another batch"
    crush.say("skip", treatment="drench", number=1)
    assert doses(crush.latest[1])[0][2]
    assert crush.latest[1].skipped == ("oral drench",)
    left_out = crush.latest[1].treatments[0]
    assert left_out.withheld_until is None
    crush.say("skip", treatment="drench", given=True, number=1)
    assert doses(crush.latest[1]) == [(40.0, "B8", False), copper]
    assert amount is not None


def test_a_counted_dose_is_mended_in_whole_pieces(crush: Crush) -> None:
    answer = crush.say("dose", treatment="copper", amount=1.5)
    assert (answer.done, answer.text) == (False, "copper is counted in boluses: give a whole number.")
    assert crush.say("dose", treatment="copper", amount=2).text == "copper: 2 boluses given to number 1."
    assert doses(crush.settled[-1])[1] == (2.0, None, False)


def test_a_dose_given_without_a_weight_has_the_amount_that_was_said(crush: Crush) -> None:
    crush.to(FIRST.off_t + 5)
    crush.say("dose", treatment="oral drench", amount=35, number=1)
    said = crush.latest[1].doses_said
    assert [(one.name, one.given, one.amount, one.batch) for one in said] == [("oral drench", None, 35.0, None)]
    crush.to(SECOND.off_t + 5)
    assert crush.latest[2].doses_said == (), "what was said of one animal holds for that one"
