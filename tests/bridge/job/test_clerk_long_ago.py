"""What the clerk says of a weighing of long ago: what was done stands, what is known of the animal is known anew.

Worked by hand from the rules that `Clerk`, `Limits` and `pens` state; dates by a calendar.
"""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.events import Event, Finding, Flag, Gain, Settled, Treatment, Weighing, WithheldFor, wrap
from neckyoke.bridge.job.afterwards import Afterwards, Redated
from neckyoke.bridge.job.clerk import Clerk, Held, InForce, OneSheet
from neckyoke.bridge.job.doses.held import PastDose
from neckyoke.bridge.job.roster.roster import load_roster
from neckyoke.bridge.job.sheet import load_sheet
from neckyoke.bridge.station.settings import Needs
from tests.support import events

TAG, OTHER, STRANGE = "999000000112233", "999000000112234", "999000000119999"
SHEET = """
title = "Autumn draft"
mob = "dairy beef"
[details]
sex = "steer"
breed = "dairy cross"
[[findings]]
name = "lame"
yes_no = true
needed = true
keep = true
[[findings]]
name = "teeth"
choices = [2, 4, 6]
[[treatments]]
name = "drench"
ml_per_kg = 0.1
withhold_days = 28
[[draft]]
pen = "keep"
"""
ROSTER = f"""tag,visual,sex,last_kg,last_date,withheld_until
{TAG},47,heifer,250,2026-09-25,2026-12-01
{OTHER},48,steer,300,2026-11-17,
,49,steer,280,2026-10-25,
"""
GAIN = Gain(kg=12.0, days=3, since="2026-11-01")


def held(tmp_path: Path, *, roster: bool = True) -> Held:
    (tmp_path / "sheet.toml").write_text(SHEET)
    (tmp_path / "roster.csv").write_text(ROSTER)
    known = load_roster(tmp_path / "roster.csv", date(2026, 11, 24)) if roster else None
    return Held(load_sheet(tmp_path / "sheet.toml"), known)


def weighed(digits: str | None = TAG, **given: Any) -> Event:
    data = events.weighing(1, tag=digits, kg=318.5)
    given = {"sheet": "Autumn draft", "tag": data.tag if digits else None, **given}
    return wrap(data.model_copy(update=given), site=events.SITE, time=data.off, key="1")


def of(event: Event) -> Weighing:
    assert isinstance(event.data, Weighing)
    return event.data


def redated(sheets: InForce, event: Event, **given: Any) -> Weighing:
    return of(Redated(Clerk(sheets, **given)).fill(event))


def test_the_new_date_says_what_is_known_and_what_was_done_stands(tmp_path: Path) -> None:
    done = (Treatment(name="drench", dose_ml=99.0),)
    was: dict[str, Any] = {
        "flags": (Flag.WEIGHT_UNLIKELY, Flag.NO_TAG),
        "gain": GAIN,
        "pen": "soft ground",
        "treatments": done,
    }
    now = redated(OneSheet(held(tmp_path)), weighed(**was))
    assert now.flags == (Flag.NO_TAG, Flag.WITHHELD), "since 25 September 68.5 kg in sixty days are likely"
    assert now.gain is not None
    assert (now.gain.kg, now.gain.days, now.gain.since) == (68.5, 60, "2026-09-25")
    assert [(one.kind, one.until) for one in now.withheld] == [("meat", "2026-12-01")]
    assert (now.pen, now.treatments, now.weight.kg) == ("soft ground", done, 318.5)


def test_flags_that_hang_on_no_date_are_not_raised_anew_by_it(tmp_path: Path) -> None:
    assert redated(OneSheet(held(tmp_path)), weighed(STRANGE)).flags == ()


def test_a_gain_stands_where_no_roster_is_at_hand_any_more(tmp_path: Path) -> None:
    no_roster, roster = (OneSheet(held(tmp_path, roster=known)) for known in (False, True))
    assert redated(no_roster, weighed(gain=GAIN)).gain == GAIN
    assert redated(roster, weighed(STRANGE, gain=GAIN)).gain is None, "the roster knows no earlier weight"
    assert redated(roster, weighed(gain=GAIN, sheet="another")).gain == GAIN, "nor its sheet"


class Two:
    """One sheet for the animals at hand, and another for the numbers of a job."""

    def __init__(self, numbers: Held | None, called: Held | None) -> None:
        self.next = Held()
        self._numbers, self._called = numbers, called

    def held(self, _number: int) -> Held | None:
        return self._numbers

    def called(self, _title: str | None) -> Held | None:
        return self._called


@pytest.mark.parametrize(
    ("job", "numbers", "called", "known"),
    [
        ("j1", True, False, True),  # of a job its own number tells
        ("j1", False, True, False),
        (None, False, True, True),  # of none the title does
        (None, True, False, False),
    ],
)
def test_a_job_finds_its_sheet_by_the_number_and_what_was_weighed_in_none_by_the_title(
    tmp_path: Path, job: str | None, *, numbers: bool, called: bool, known: bool
) -> None:
    one = held(tmp_path)
    sheets = Two(one if numbers else None, one if called else None)
    assert (redated(sheets, weighed(job=job)).withheld != ()) == known


def test_another_animal_is_known_anew_and_only_that(tmp_path: Path) -> None:
    was: dict[str, Any] = {
        "flags": (Flag.NOT_EXPECTED, Flag.ALREADY_WEIGHED, Flag.WEIGHT_UNLIKELY, Flag.WITHHELD, Flag.NO_TAG),
        "details": {"sex": "bull"},
        "gain": GAIN,
        "withheld": (WithheldFor(product="drench", kind="meat", until="2027-01-01"),),
        "animal": None,
        "treatments": (Treatment(name="drench", dose_ml=99.0),),
    }
    clerk = Clerk(OneSheet(held(tmp_path)))
    now = of(Afterwards(clerk, other=True).fill(weighed(OTHER, **was)))
    assert now.flags == (Flag.NO_TAG,)
    assert now.details == {"sex": "steer", "breed": "dairy cross"}
    assert now.animal is not None
    assert now.animal["visual"] == "48"
    assert now.gain is not None
    assert now.gain.kg == 18.5
    assert now.withheld == ()
    assert now.treatments[0].dose_ml == 99.0
    same = of(Afterwards(clerk, other=False).fill(weighed(OTHER, **was)))
    assert same == of(weighed(OTHER, **was)), "of the same animal nothing is said anew"


def test_without_its_sheet_what_was_said_of_the_animal_stands(tmp_path: Path) -> None:
    clerk = Clerk(OneSheet(held(tmp_path)))
    now = of(Afterwards(clerk, other=True).fill(weighed(OTHER, details={"sex": "bull"}, sheet="another")))
    assert (now.details, now.sheet, now.animal) == ({"sex": "bull"}, "another", None)


def known_as(*tags: str, **given: Any) -> Animal:
    return Animal(animal="a1", tags=tuple(WornTag(id=tag) for tag in tags), **given)


@pytest.mark.parametrize(
    ("digits", "said", "who", "visual"),
    [
        (TAG, None, None, "47"),
        (STRANGE, None, None, None),
        (STRANGE, None, known_as(OTHER, STRANGE), "48"),  # the roster knows a tag that it wore
        (STRANGE, None, known_as(TAG, OTHER), "48"),  # the last of those
        (TAG, None, known_as(OTHER), "47"),  # the tag that was heard goes first
        (None, None, known_as(OTHER), "48"),
        (None, "47", None, "47"),
        (None, "7", None, None),
        (STRANGE, "49", None, "49"),  # a row without a tag takes any
        (STRANGE, "48", None, None),  # one with another tag is another animal
        (TAG, "48", None, "47"),
    ],
)
def test_an_animals_row_is_found_by_its_tag_then_by_those_it_wore_then_by_its_number(
    tmp_path: Path, digits: str | None, said: str | None, who: Animal | None, visual: str | None
) -> None:
    clerk = Clerk(OneSheet(held(tmp_path)))
    data = of(clerk.fill(weighed(digits, animal={"visual": said} if said else None), who))
    row = {"47": "heifer", "48": "steer", "49": "steer", None: None}[visual]
    assert (data.animal or {}).get("sex") == row
    assert (Flag.NOT_EXPECTED in data.flags) == (visual is None)
    if said is None:
        assert (data.animal or {}).get("visual") == visual


def test_what_was_seen_of_it_is_filled_in_as_the_sheet_has_it(tmp_path: Path) -> None:
    clerk = Clerk(OneSheet(held(tmp_path)))
    said = Finding(name="lame", value=True, by="person")
    assert of(clerk.fill(weighed(findings=(said,)))).findings == (said.model_copy(update={"keep": True}),)


def test_the_herd_books_date_holds_an_animal_too(tmp_path: Path) -> None:
    clerk = Clerk(OneSheet(held(tmp_path)))
    (told,) = of(clerk.fill(weighed(OTHER), known_as(OTHER, withheld_until="2026-12-24"))).withheld
    assert (told.product, told.kind, told.until) == ("herd book", "meat", "2026-12-24")


def test_an_animals_own_values_go_over_the_sheets_and_what_was_assumed_under_the_rosters(tmp_path: Path) -> None:
    clerk = Clerk(OneSheet(held(tmp_path)))
    animal = {"sex": "bull", "breed": "beef", "visual": "47"}
    own = of(clerk.fill(weighed(TAG, animal=animal), known_as(TAG)))
    assert own.details == {"sex": "bull", "breed": "beef"}
    assumed = of(clerk.fill(weighed(TAG, animal=animal), known_as(TAG, assumed=("sex",))))
    assert assumed.details == {"sex": "heifer", "breed": "beef"}
    assert of(clerk.fill(weighed(TAG, details={"sex": "cow"}))).details["sex"] == "cow", "a person's word first"


def test_an_animal_inducted_into_this_mob_is_expected(tmp_path: Path) -> None:
    clerk = Clerk(OneSheet(held(tmp_path)))
    for mob, flags in ((clerk.mob(1), ()), ("another", (Flag.NOT_EXPECTED,)), (None, (Flag.NOT_EXPECTED,))):
        assert of(clerk.fill(weighed(STRANGE), known_as(STRANGE, mob=mob))).flags == flags


@pytest.mark.parametrize(
    ("digits", "animal", "asked"),
    [
        (TAG, {"id": "a1"}, "a1"),  # where a book is kept
        (TAG, {"id": None}, TAG),
        (TAG, None, TAG),
        (None, {"visual": "47"}, TAG),  # by the row that the number found
        (None, {"visual": "49"}, None),  # which has none
        (None, None, None),
    ],
)
def test_an_animals_past_is_asked_for_by_its_id_else_by_its_tag_and_its_doses_by_both(
    tmp_path: Path, digits: str | None, animal: dict[str, Any] | None, asked: str | None
) -> None:
    keys: list[tuple[str, str]] = []
    dosed: list[tuple[str, str]] = []

    def history(key: str, but: str) -> list[tuple[datetime, float]]:
        keys.append((key, but))
        return []

    def doses(key: str, before: datetime, but: str) -> list[PastDose]:
        dosed.append((key, but))
        return []

    event = weighed(digits, animal=animal)
    Clerk(OneSheet(held(tmp_path)), history=history, doses=doses).fill(event)
    mine = of(event).weighing
    assert keys == ([(asked, mine)] if asked else [])
    worn = [(digits, mine)] if digits and digits != asked else []  # of one struck out, whose animal nobody got to know
    assert dosed == [*keys, *worn]


def test_the_journal_is_nearer_than_the_roster_and_only_what_was_before_counts(tmp_path: Path) -> None:
    on = of(weighed()).on
    known = [(datetime(2026, 9, 25, 8, tzinfo=UTC), 260.0), (on, 500.0), (on + timedelta(days=1), 600.0)]
    data = of(Clerk(OneSheet(held(tmp_path)), history=lambda *_: known).fill(weighed()))
    assert data.gain is not None
    assert (data.gain.kg, data.gain.since) == (58.5, "2026-09-25")


def test_settled_it_may_leave_but_for_what_is_missing_or_withheld(tmp_path: Path) -> None:
    done = of(weighed(OTHER))
    base = {name: getattr(done, name) for name in ("weighing", "station", "number", "tag", "weight", "on", "clock")}
    one = held(tmp_path)
    assert one.sheet is not None
    leaving = Held(one.sheet.model_copy(update={"leaving": "meat"}), one.roster)

    def may(sheets: Held, **given: Any) -> bool | None:
        data = Settled.model_validate({**base, "settled": done.settled, **given})
        filled = Clerk(OneSheet(sheets)).fill(wrap(data, site=events.SITE, time=done.on, key="1")).data
        assert isinstance(filled, Settled)
        assert [one.name for one in filled.treatments] == ["drench"]
        return filled.may_leave

    assert may(one) is True
    assert may(one, missing=("lame",)) is False
    assert may(leaving) is True
    assert may(leaving, tag=of(weighed(TAG)).tag) is False, "withheld until December"
    assert may(one, tag=of(weighed(TAG)).tag) is True, "which is told, and holds nobody who stays"


def test_what_a_sheet_asks_for_and_knows_is_told_by_number(tmp_path: Path) -> None:
    one = held(tmp_path)
    clerk = Clerk(OneSheet(one))
    assert one.sheet is not None
    assert clerk.needed(1) == Needs(one.sheet.require_tag, ("lame",))
    assert (clerk.listed(1, OTHER), clerk.listed(1, STRANGE)) == ("48", None)
    assert (clerk.mob(1), clerk.sheet_of(1), clerk.sheet) == ("dairy beef", one.sheet, one.sheet)
    for nobody in (Clerk(), Clerk(Two(None, None))):
        assert nobody.needed(1) == Needs()
        assert (nobody.listed(1, OTHER), nobody.mob(1), nobody.sheet_of(1), nobody.not_seen) == (None, None, None, [])


def test_filled_under_a_sheet_that_is_gone_it_stays_as_it_is_and_another_kind_of_event_always() -> None:
    known = weighed(animal={"visual": "47"}, gain=GAIN)
    assert Clerk(Two(None, None)).fill(known) is known
    assert Clerk().fill(known) is known
    link = events.link_state(1)
    assert Clerk().fill(link) is link
