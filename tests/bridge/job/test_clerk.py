"""The clerk adds what the job knows, and nothing else."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from neckyoke.bridge.events import Clock, Event, Finding, Flag, Settled, Tag, Treatment, Weighing, Weight, wrap
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.job.roster.roster import Roster, load_roster
from neckyoke.bridge.job.sheet import Sheet, load_sheet
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.amend import claimed
from neckyoke.simulators.day import DRENCH, PENS
from tests.support.sheets import one

NOON = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
TAG = "999000000112233"
SHEET = f"""
title = "Backgrounding induction"
roster = "roster.csv"
[details]
sex = "steer"
breed = "dairy cross"
{DRENCH}{PENS}"""
ROSTER = """tag,visual,born,sex,last_kg,last_date,withheld_until,origin
999 000000112233,47,2026-01-02,heifer,250,2026-09-25,2026-12-01,east
999000000112234,48,2026-01-05,steer,300,2026-11-17,,west
"""


@pytest.fixture
def sheet(tmp_path: Path) -> Sheet:
    path = tmp_path / "sheet.toml"
    path.write_text(SHEET)
    return load_sheet(path)


@pytest.fixture
def roster(tmp_path: Path) -> Roster:
    path = tmp_path / "roster.csv"
    path.write_text(ROSTER)
    return load_roster(path, date(2026, 11, 24))


def tag(digits: str) -> Tag:
    return Tag(id=digits, code=digits[:3], national=digits[3:], animal=True)


def weighing(number: int = 1, digits: str | None = TAG, kg: float | None = 318.5, **given: Any) -> Event:
    grade = given.pop("grade", "good")
    first = given.pop("first_kg", kg)
    on = given.pop("on", NOON + timedelta(minutes=number))
    data = Weighing(
        **{
            "weighing": f"w{number}",
            "station": "crush",
            "number": number,
            "tag": tag(digits) if digits else None,
            "weight": Weight(kg=kg, grade=grade, first_kg=first),
            "on": on,
            "settled": on,
            "off": on + timedelta(seconds=5),
            "clock": Clock.SYNCHRONISED,
            **given,
        }
    )
    return wrap(data, site="larkmoor", time=on, key=f"{number}/{data.revision}")


def settled(number: int = 1, digits: str | None = TAG, kg: float = 318.5) -> Event:
    on = NOON + timedelta(minutes=number)
    data = Settled(
        weighing=f"w{number}",
        station="crush",
        number=number,
        tag=tag(digits) if digits else None,
        weight=Weight(kg=kg, grade="good"),
        on=on,
        settled=on,
        clock=Clock.SYNCHRONISED,
    )
    return wrap(data, site="larkmoor", time=on, key=str(number))


def clerk_of(sheet: Sheet, roster: Roster, account: Account | None = None) -> tuple[Clerk, Account]:
    account = account or Account()
    return Clerk(one(sheet, roster, account)), account


def counted(account: Account, event: Event) -> Event:
    """Let the station have counted a weighing, as it does before it publishes it."""
    assert isinstance(event.data, Weighing)
    account.count(event.data.weighing, claimed(event.data), None)
    return event


def filled(clerk: Clerk, event: Event) -> Weighing:
    data = clerk.fill(event).data
    assert isinstance(data, Weighing)
    return data


def test_what_holds_an_animal_by_its_roster_is_told(sheet: Sheet, roster: Roster) -> None:
    clerk = Clerk(one(sheet, roster))
    (told,) = filled(clerk, weighing()).withheld
    assert (told.product, told.kind, told.until) == ("roster", "meat", "2026-12-01")
    assert filled(clerk, weighing(digits="999000000112234")).withheld == ()


def test_a_sheet_is_called_by_its_title_while_it_is_at_hand(sheet: Sheet) -> None:
    clerk = Clerk(one(sheet))
    assert clerk.sheet_called("Backgrounding induction") is sheet
    assert clerk.sheet_called("another") is None
    assert Clerk().sheet_called(None) is None


LAMENESS = """
title = "Autumn draft"
[[findings]]
name = "lame"
yes_no = true
[[draft]]
pen = "soft ground"
at_least_kg = 340
match = { lame = [true] }
[[draft]]
pen = "hospital"
match = { lame = [true] }
[[draft]]
pen = "keep"
"""


@pytest.mark.parametrize(
    ("changed", "should"),
    [
        ({}, "hospital"),
        ({"findings": ()}, None),
        ({"pen": "hospital"}, None),  # there it is
        ({"weight": Weight(kg=318.5, grade="fair")}, "hospital"),  # it had no first weight
        ({"weight": Weight(kg=318.5, first_kg=345.0, grade="good")}, "soft ground"),  # by which the gate went
        ({"weight": Weight(kg=318.5, first_kg=318.5, grade="poor")}, None),  # no pen by a weight that is not sure
        ({"sheet": "another, not at hand any more"}, None),
    ],
)
def test_of_long_ago_it_is_said_where_it_should_be_by_what_was_seen_since(
    tmp_path: Path, changed: dict[str, Any], should: str | None
) -> None:
    (tmp_path / "sheet.toml").write_text(LAMENESS)
    clerk = Clerk(one(load_sheet(tmp_path / "sheet.toml")))
    lame = Finding(name="lame", value=True, by="person", at=NOON + timedelta(hours=3))
    given: dict[str, Any] = {"sheet": "Autumn draft", "pen": "keep", "findings": (lame,)} | changed
    event = weighing()
    event = event.model_copy(update={"data": event.data.model_copy(update=given)})
    data = clerk.afterwards(event, other=False).data
    assert isinstance(data, Weighing)
    assert (data.pen, data.pen_should) == (given["pen"], should)


def test_a_known_animal_gets_everything(sheet: Sheet, roster: Roster) -> None:
    data = filled(Clerk(one(sheet, roster)), weighing())
    assert data.sheet == "Backgrounding induction"
    assert data.animal is not None
    assert data.animal["visual"] == "47"
    assert data.details == {"sex": "heifer", "breed": "dairy cross"}, "the roster's own word over the sheet's"
    drench = data.treatments[0]
    assert (drench.dose_ml, drench.exact_ml) == (35.0, 31.85)
    assert (drench.withheld_until, drench.export_from) == ("2026-12-23", "2027-01-06")
    assert data.gain is not None
    assert (data.gain.kg, data.gain.days, data.gain.since) == (68.5, 60, "2026-09-25")
    assert data.gain.kg_per_day == pytest.approx(68.5 / 60, abs=5e-4)
    assert data.pen == "middle"
    assert data.flags == (Flag.WITHHELD,)


def test_the_settled_event_and_the_weighing_carry_the_same_dose_and_pen(sheet: Sheet, roster: Roster) -> None:
    clerk = Clerk(one(sheet, roster))
    first = clerk.fill(settled(kg=300.0)).data
    assert isinstance(first, Settled)
    later = filled(clerk, weighing(kg=299.5, first_kg=300.0))
    assert first.treatments[0].dose_ml == later.treatments[0].dose_ml == 30.0
    assert first.pen == later.pen == "middle", "the pen it was sent to"


def test_filling_twice_is_filling_once(sheet: Sheet, roster: Roster) -> None:
    clerk = Clerk(one(sheet, roster))
    once = clerk.fill(weighing())
    assert clerk.fill(once) == once


def test_a_replay_fills_the_same(sheet: Sheet, roster: Roster) -> None:
    events = [settled(1), weighing(1), weighing(2, "999000000112234"), weighing(3), weighing(1, revision=2)]
    runs = [
        [clerk.fill(event).to_json() for event in events]
        for clerk in (Clerk(one(sheet, roster)), Clerk(one(sheet, roster)))
    ]
    assert runs[0] == runs[1]


@pytest.mark.parametrize("grade", ["poor", "none"])
def test_a_gate_stays_shut_on_a_doubtful_weight(sheet: Sheet, roster: Roster, grade: str) -> None:
    kg = 318.5 if grade == "poor" else None
    data = filled(Clerk(one(sheet, roster)), weighing(kg=kg, grade=grade))
    assert data.pen is None
    assert data.gain is None
    assert (data.treatments[0].dose_ml is None) == (grade == "none")
    assert data.treatments[0].withheld_until == "2026-12-23", "it may have been given all the same"
    assert data.treatments[0].remark


def test_a_skipped_treatment_has_no_dose_and_no_dates(sheet: Sheet, roster: Roster) -> None:
    data = filled(Clerk(one(sheet, roster)), weighing(skipped=("Oral Drench",)))
    assert data.treatments == (Treatment(name="oral drench", skipped=True),)


def test_an_animal_that_is_not_on_the_roster_is_flagged_and_weighed_all_the_same(sheet: Sheet, roster: Roster) -> None:
    data = filled(Clerk(one(sheet, roster)), weighing(digits="999000000999999"))
    assert data.flags == (Flag.NOT_EXPECTED,)
    assert data.pen == "middle"
    assert data.animal is None


def test_an_untagged_animal_is_not_called_unexpected(sheet: Sheet, roster: Roster) -> None:
    assert filled(Clerk(one(sheet, roster)), weighing(digits=None, flags=(Flag.NO_TAG,))).flags == (Flag.NO_TAG,)


def test_a_visual_number_finds_the_row(sheet: Sheet, roster: Roster) -> None:
    data = filled(Clerk(one(sheet, roster)), weighing(digits=None, animal={"visual": "0048"}))
    assert data.animal is not None
    assert data.animal["tag"] == "999000000112234"
    stranger = filled(Clerk(one(sheet, roster)), weighing(digits=None, animal={"visual": "7"}))
    assert stranger.animal == {"visual": "7"}
    assert stranger.flags == (Flag.NOT_EXPECTED,)


def test_the_same_animal_by_tag_and_by_visual_number_was_already_weighed(sheet: Sheet, roster: Roster) -> None:
    clerk, account = clerk_of(sheet, roster)
    counted(account, weighing(1))
    assert Flag.ALREADY_WEIGHED in filled(clerk, weighing(2, None, animal={"visual": "47"})).flags
    assert Flag.ALREADY_WEIGHED not in filled(clerk, weighing(1, revision=2)).flags


def test_a_weighing_struck_out_or_given_another_tag_frees_the_animal(sheet: Sheet, roster: Roster) -> None:
    for change in ({"flags": (Flag.VOIDED,)}, {"tag": tag("999000000112234")}):
        clerk, account = clerk_of(sheet, roster)
        counted(account, weighing(1))
        counted(account, weighing(1, revision=2, **change))
        assert Flag.ALREADY_WEIGHED not in filled(clerk, weighing(2)).flags


def test_the_weighed_are_carried_over_a_restart(sheet: Sheet, roster: Roster) -> None:
    _, account = clerk_of(sheet, roster)
    counted(account, weighing(1))
    again, _ = clerk_of(sheet, roster, Account(account.jobs))
    assert Flag.ALREADY_WEIGHED in filled(again, weighing(2)).flags
    assert [animal.visual for animal in again.not_seen] == ["48"]


@pytest.mark.parametrize(
    ("kg", "unlikely"),
    [(300 + 30 + 21, False), (300 + 30 + 21.5, True), (300 - 51, False), (300 - 51.5, True)],
)
def test_a_weight_is_unlikely_beyond_gut_fill_and_growth(
    sheet: Sheet, roster: Roster, kg: float, *, unlikely: bool
) -> None:
    """Seven days at 3 kg a day and a tenth of 300 kg are allowed."""
    data = filled(Clerk(one(sheet, roster)), weighing(digits="999000000112234", kg=kg))
    assert (Flag.WEIGHT_UNLIKELY in data.flags) == unlikely
    assert data.gain is not None
    assert data.gain.kg_per_day is None, "seven days are no time to grow in"


def test_the_journal_remembers_weights_and_withholding(sheet: Sheet, roster: Roster) -> None:
    clerk = Clerk(one(sheet, roster))
    october = clerk.fill(weighing(1, "999000000112239", 280.0, on=NOON - timedelta(days=40)))
    past = Past.of([october])
    later = Clerk(one(sheet, roster), history=past.weights, doses=past.doses)
    data = filled(later, weighing(2, "999000000112239", 320.0))
    assert data.gain is not None
    assert data.gain.kg_per_day == 1.0
    assert Flag.WITHHELD not in data.flags, "28 days are over"
    early = filled(later, weighing(3, "999000000112239", 300.0, on=NOON - timedelta(days=20)))
    assert Flag.WITHHELD in early.flags


def test_a_weighing_is_not_its_own_past(sheet: Sheet, roster: Roster) -> None:
    clerk = Clerk(one(sheet, roster))
    first = clerk.fill(weighing(1, "999000000112234"))
    past = Past.of([first])
    again = Clerk(one(sheet, roster), history=past.weights, doses=past.doses)
    assert again.fill(weighing(1, "999000000112234")) == first


def test_a_morning_that_is_yesterday_in_utc_is_not_the_animals_past(sheet: Sheet, roster: Roster) -> None:
    """At 22:00 UTC it is 8 in the morning of the next day ten hours east: an amendment must not find itself."""
    east = ZoneInfo("Australia/Brisbane")
    on = datetime(2026, 11, 23, 22, tzinfo=UTC)
    first = Clerk(one(sheet), zone=east).fill(weighing(1, "999000000112239", 300.0, on=on))
    past = Past.of([first])
    amended = filled(
        Clerk(one(sheet), zone=east, history=past.weights), weighing(1, "999000000112239", 300.0, on=on, revision=2)
    )
    assert amended.gain is None
    later = weighing(2, "999000000112239", 301.0, on=on + timedelta(hours=4))
    assert filled(Clerk(one(sheet), zone=east, history=past.weights), later).gain is None, "still the same day there"


def test_a_weighing_whose_time_was_put_right_is_not_its_own_past_either(sheet: Sheet, roster: Roster) -> None:
    """A box without a battery clock dates a weighing wrongly first, and amends it when it knows better."""
    wrong = Clerk(one(sheet)).fill(weighing(1, "999000000112239", 300.0, on=datetime(2026, 9, 1, tzinfo=UTC)))
    past = Past.of([wrong])
    clerk = Clerk(one(sheet), history=past.weights, doses=past.doses)
    right = filled(clerk, weighing(1, "999000000112239", 300.0, revision=2))
    assert right.gain is None
    assert right.flags == ()


def test_without_a_sheet_an_event_stays_as_it_is() -> None:
    event = weighing()
    assert Clerk().fill(event) == event


def test_an_event_filled_under_a_sheet_no_longer_known_is_left_alone(sheet: Sheet, roster: Roster) -> None:
    event = Clerk(one(sheet, roster)).fill(weighing())
    assert Clerk().fill(event) == event
