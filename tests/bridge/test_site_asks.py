"""What people ask of the site, in the words of the day's sheet and roster: animals at hand, and of an earlier run."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from neckyoke.bridge.asking.requests import Answer, Refusal, parse_request
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Clock, Event, Flag, Settled, Stamp, Weighing
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.find import FoundSheets
from neckyoke.bridge.job.load import load_job
from neckyoke.bridge.site.site import Site
from neckyoke.bridge.station.settings import Memory
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG
from tests.support.sheets import one

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
YARD = Yard.named("calm", seed=8, animals=2)
END = YARD.truth[-1].off_t + 30
TAGS = [stay.tag or "" for stay in YARD.truth]
OTHER = "999000000112233"
SHEET = """
title = "{title}"
roster = "roster.csv"
[details]
sex = "steer"
[[treatments]]
name = "oral drench"
ml = 10
withhold_days = 28
[[treatments]]
name = "seven in one"
ml = 2
withhold_days = 0
"""
ROSTER = f"""tag,visual,home
{TAGS[0]},101,east
{TAGS[1]},102,west
{OTHER},103,north
,104,south
"""


class Day:
    """A site that has weighed two animals, or none in a run begun after that."""

    def __init__(self, folder: Path, sheet: str | None, before: "Day | None" = None) -> None:
        path = folder / "neckyoke.toml"
        path.write_text(CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002"))
        (folder / "roster.csv").write_text(ROSTER)
        (folder / "sheet.toml").write_text(SHEET.format(title=sheet))
        job = load_job(folder / "sheet.toml", STARTED.date()) if sheet else None
        if before:
            before.site.keeper.finish(STARTED + timedelta(seconds=END))
        memory = before.site.memories["crush"] if before else Memory()
        self.site: Site = Site(
            load_config(path),
            started=STARTED + timedelta(hours=1 if before else 0),
            stamp=lambda t: Stamp(STARTED + timedelta(seconds=t), Clock.UNKNOWN),
            memories={"crush": memory},
            clerk=lambda jobs: Clerk(one(job.sheet, job.roster, jobs.account) if job else one()),
            keeper=Keeper("larkmoor", before.site.keeper.book) if before else None,
        )
        self.latest: dict[int, Weighing] = dict(before.latest) if before else {}
        if before is None:
            for t, link, data in YARD.items():
                self.keep(self.site.data(t, link, data))
            self.keep(self.site.advance(END))

    def keep(self, events: list[Event]) -> None:
        self.latest |= {event.data.number: event.data for event in events if isinstance(event.data, Weighing)}

    def ask(self, number: int, **words: object) -> Answer:
        """Ask as the service does: what is not at hand is brought along."""
        request = parse_request({"number": number, **words})
        assert not isinstance(request, Refusal), request
        past = self.latest.get(number) if self.site.lacks(request) else None
        answer, events = self.site.request(END, request, past)
        self.keep(events)
        return answer


def described(weighing: Weighing) -> dict[str, object]:
    """Return what is said of its animal, but for the id that it has in the herd book."""
    return {key: value for key, value in (weighing.animal or {}).items() if key not in {"id", "sex", "mob"}}


@pytest.fixture(params=["at hand", "after a restart"])
def day(tmp_path: Path, request: pytest.FixtureRequest) -> Day:
    first = Day(tmp_path, "Induction")
    return Day(tmp_path, "Induction", first) if request.param == "after a restart" else first


def test_a_part_of_a_treatments_name_is_enough(day: Day) -> None:
    answer = day.ask(1, kind="skip", treatment="Drench")
    assert (answer.done, answer.text) == (True, "oral drench: not given to number 1.")
    assert [one.skipped for one in day.latest[1].treatments] == [True, False]
    assert day.latest[1].skipped == ("oral drench",)
    assert day.ask(1, kind="skip", treatment="oral drench", given=True).done
    assert [(one.skipped, one.dose_ml) for one in day.latest[1].treatments] == [(False, 10.0), (False, 2.0)]


def test_a_treatment_that_is_not_on_the_sheet_is_refused(day: Day) -> None:
    said = {text: day.ask(1, kind="skip", treatment=text) for text in ("pour-on", "n")}
    assert not any(answer.done for answer in said.values())
    assert said["pour-on"].text == "No treatment 'pour-on' on this sheet; there is: oral drench, seven in one."
    assert said["n"].text == "'n' may be any of these: oral drench, seven in one."
    assert day.latest[1].skipped == ()


def test_without_a_sheet_nothing_can_be_skipped(tmp_path: Path) -> None:
    answer = Day(tmp_path, None).ask(1, kind="skip", treatment="drench")
    assert not answer.done
    assert "no job sheet with treatments" in answer.text


def test_a_visual_number_off_the_roster_is_noted_and_said_and_the_tag_stands(day: Day) -> None:
    answer = day.ask(1, kind="identify", visual="1O1")
    assert answer.done
    assert answer.text.startswith("number 1 has visual 1O1.  1O1 is not on the roster.  Tag …")
    assert answer.question is not None
    assert answer.question.choices == ("101 as before", "1O1 is its new number")
    now = day.latest[1]
    assert now.tag is not None
    assert (now.tag.id, now.flags) == (TAGS[0], (Flag.WHICH_ANIMAL,))
    assert described(now) == {"tag": TAGS[0], "visual": "1O1", "home": "east"}


def test_a_visual_number_of_the_roster_brings_its_tag(day: Day) -> None:
    assert day.ask(1, kind="identify", visual="103").text == f"number 1 has {OTHER}."
    now = day.latest[1]
    assert now.tag is not None
    assert (now.tag.id, now.flags) == (OTHER, (Flag.BY_PERSON,))
    assert described(now) == {"tag": OTHER, "visual": "103", "home": "north"}
    assert OTHER in day.site.stations["crush"].account.weighed
    assert TAGS[0] not in day.site.stations["crush"].account.weighed


def test_a_tag_given_to_a_second_animal_is_moved_or_said_to_be_there_twice(day: Day) -> None:
    """Beside each other and at hand it is moved; of an earlier run both stand, and the second says so."""
    day.ask(1, kind="identify", tag=OTHER)
    day.ask(2, kind="identify", visual="103")
    tags = {number: one.tag and one.tag.id for number, one in day.latest.items()}
    assert tags[2] == OTHER
    assert (tags[1] == OTHER) == (Flag.REPEAT in day.latest[2].flags)


def test_an_animal_of_an_earlier_run_keeps_what_its_own_sheet_said(tmp_path: Path) -> None:
    first = Day(tmp_path, "Induction")
    later = Day(tmp_path, "Weaning", first)
    before = later.latest[1]

    assert later.ask(1, kind="note", text="lame").done
    noted = later.latest[1]
    assert later.ask(1, kind="skip", treatment="drench").done
    assert later.ask(1, kind="skip", treatment="drench", given=True).done
    given = later.latest[1]
    assert later.ask(1, kind="identify", tag=OTHER).done
    named = later.latest[1]

    change = {"revision": 2, "notes": ("lame",), "why": "a person added a note", "final": True, "final_at": None}
    assert noted == before.model_copy(update=change)
    assert given.treatments[0].dose_ml is None, "what was dosed is not known here any more"
    assert given.treatments[0].withheld_until == "unknown"
    assert given.treatments[1:] == before.treatments[1:]
    assert (named.sheet, named.details, described(named)) == ("Induction", {"sex": "steer"}, {"visual": "103"})
    assert named.flags == (Flag.BY_PERSON,)
    assert (named.revision, named.weight, named.on) == (5, before.weight, before.on)


def test_what_nobody_has_is_refused_in_a_replay_as_anywhere(tmp_path: Path) -> None:
    day = Day(tmp_path, "Induction")
    assert day.ask(9, kind="note", text="x").text == "No number 9 is at hand here, nor in the journal."


def test_an_animal_known_by_its_ear_number_alone_is_weighed_once_whatever_restarts(tmp_path: Path) -> None:
    first = Day(tmp_path, "Induction")
    first.ask(1, kind="identify")
    first.ask(1, kind="identify", visual="104")
    day = Day(tmp_path, "Induction", first)
    seen = {101, 102, 103, 104} - {int(animal.visual or 0) for animal in day.site.clerks["crush"].not_seen}
    assert seen == {102, 104}, "as before the restart: the second by its tag, the first by its ear"
    day.ask(2, kind="identify")
    day.ask(2, kind="identify", visual=" 0104")
    assert Flag.ALREADY_WEIGHED in day.latest[2].flags
    day.ask(1, kind="void")
    day.ask(2, kind="identify", visual="104")
    assert Flag.ALREADY_WEIGHED not in day.latest[2].flags, "the first does not count any more"


@pytest.mark.parametrize(("sheet", "table", "missing"), [("true", "false", True), ("false", "true", False)])
def test_the_sheet_says_whether_a_tag_is_needed_from_the_next_animal_on(
    tmp_path: Path, sheet: str, table: str, *, missing: bool
) -> None:
    path = tmp_path / "neckyoke.toml"
    text = CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002")
    path.write_text(text.replace("[stations.crush]", f"[stations.crush]\nrequire_tag = {table}"))
    (tmp_path / "sheet.toml").write_text(f'title = "Induction"\nrequire_tag = {sheet}\n')
    site = Site(
        load_config(path),
        started=STARTED,
        stamp=lambda t: Stamp(STARTED + timedelta(seconds=t), Clock.UNKNOWN),
        sheets=FoundSheets(load_config(path), STARTED.date),
    )
    asked = parse_request({"kind": "sheet", "file": "sheet.toml"})
    assert not isinstance(asked, Refusal)
    told = dict[int, Settled]()
    for t, link, data in YARD.items():
        if YARD.truth[0].on_t + 1 < t and site.clerks["crush"].sheet is None:  # while the first stands there
            assert site.request(t, asked)[0].done
        events = site.data(t, link, data) if link == "indicator" else []
        told |= {event.data.number: event.data for event in events if isinstance(event.data, Settled)}
    assert [told[number].missing == ("tag",) for number in (1, 2)] == [not missing, missing]
    assert told[2].may_leave != missing
