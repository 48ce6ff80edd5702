"""A day with findings and doses mended, by requests only: journal, register, tally, withheld list and replay agree."""

import re
from datetime import UTC, date
from pathlib import Path
from typing import Any

from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.commands.replay import replay
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Event, Weighing, read_event
from neckyoke.bridge.reports.doses.register import doses
from neckyoke.bridge.reports.doses.withheld import withheld_on
from neckyoke.bridge.reports.tally import tally
from neckyoke.simulators.yard import Yard
from tests.support.by_hand import by_hand
from tests.support.running import run

YARD = Yard.named("calm", seed=5, animals=18)
LATE = 4
"""The animal whose finding comes when it has long gone."""
SHEET = """
title = "Preg testing"
mob = "autumn heifers"
[[findings]]
name = "pregnant"
yes_no = true
needed = true
[[findings]]
name = "condition"
choices = [1, 2, 3, 4, 5]
usual = 3
[[findings]]
name = "colour"
choices = ["red", "roan", "black"]
keep = true
[[treatments]]
name = "oral drench"
ml_per_kg = 0.1
round_to_ml = 5
withhold_days = 28
export_days = 42
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
NOT_REPLAYED = ("neckyoke.attention", "neckyoke.link")
DAY, AFTER = date(2026, 12, 1), date(2026, 12, 23)


def pregnant(number: int) -> bool:
    return number % 3 == 0


def spelled(events: list[Event]) -> list[str]:
    """Spell the events of animals and jobs; a replay does not know whether the clock was synchronised."""
    said = (event.model_copy(update={"sequence": None}) for event in events if event.type not in NOT_REPLAYED)
    return [re.sub(r'"clock":"[a-z]+"', "", one.to_json()) for one in said]


def data(weighings: dict[int, Weighing]) -> list[dict[str, Any]]:
    return [one.model_dump(mode="json") for one in weighings.values()]


def told(weighings: dict[int, Weighing]) -> tuple[list[tuple[int, str, float | None]], dict[str, float], set[str]]:
    """What register, tally and withheld list say: doses by number, totals by product, who may not go."""
    rows = data(weighings)
    register = [(one.number, one.product, one.amount) for one in doses(rows, UTC)]
    events = [{"type": "neckyoke.weighing", "data": one} for one in rows]
    totals = {name: sum(used.totals.values()) for name, used in tally(events).treatments.items()}
    return register, totals, {one.tag or "" for one in withheld_on(rows, DAY, UTC)}


def test_a_day_of_findings_and_mended_doses(tmp_path: Path) -> None:
    (tmp_path / "sheet.toml").write_text(SHEET)

    async def day() -> list[Event]:
        async with by_hand(tmp_path) as box:
            for number, stay in enumerate(YARD.truth, 1):
                await box.to(YARD, stay.off_t - 1.0)
                if number != LATE:
                    assert (await box.say("finding", name="pregnant", value=pregnant(number)))["done"]
                if number == 5:
                    await box.say("finding", name="condition", value=2)
                    await box.say("finding", name="colour", value="roan")
            await box.to(YARD, YARD.truth[-1].off_t + 60)
            assert (await box.say("finding", name="pregnant", value=True, number=LATE))["done"]
            before = await box.weighings()
            answer = await box.say("dose", treatment="drench", amount=40, number=3, to=17, id="mend")
            assert answer["done"]
            assert answer["asked"] == "mend/3-17"
            mended = await box.weighings()
            undone = await box.say("undo", asked=answer["asked"])
            assert undone["done"], undone["text"]
            assert told(await box.weighings()) == told(before), "all is as before"
            assert (await box.say("dose", treatment="drench", amount=40, number=3, to=17))["done"]
            assert told(await box.weighings()) == told(mended)
            assert (await box.say("skip", treatment="copper", number=2))["done"]
            assert (await box.say("batch", treatment="drench", batch="B8", expires="2027-05-01"))["done"]
            after = await box.weighings()
            everything = [read_event(body) for _, body in await box.service.journal.read(0, 100_000)]
        _check_pens(before)
        _check_doses(before, mended, after)
        return everything

    live = run(day())
    replayed = list(replay(read_capture(tmp_path / "captures"), load_config(tmp_path / "neckyoke.toml")))
    told_live = spelled(live)
    assert spelled(replayed)[: len(told_live)] == told_live, "each event, in order; then a replay ends the run"
    assert len(told_live) > 50


def _check_pens(weighings: dict[int, Weighing]) -> None:
    for number, one in weighings.items():
        expected = "in calf" if pregnant(number) else "thin" if number == 5 else "empty"
        if number == LATE:
            assert (one.pen, one.pen_should) == (None, "in calf")
        else:
            assert (one.pen, one.pen_should) == (expected, None)


def _check_doses(before: dict[int, Weighing], mended: dict[int, Weighing], after: dict[int, Weighing]) -> None:
    register, totals, withheld = told(mended)
    was, had, held = told(before)
    assert len(was) == len(register) == 2 * len(YARD.truth)
    assert all(amount == 40.0 for number, product, amount in register if product == "oral drench" and 3 <= number <= 17)
    assert [one for one in register if not 3 <= one[0] <= 17] == [one for one in was if not 3 <= one[0] <= 17]
    assert totals["oral drench"] == sum(amount or 0 for _, product, amount in register if product == "oral drench")
    assert had["oral drench"] == sum(amount or 0 for _, product, amount in was if product == "oral drench")
    assert totals["copper"] == len(YARD.truth)
    assert withheld == held == {stay.tag for stay in YARD.truth}
    register, totals, _ = told(after)
    assert (2, "copper", 1.0) not in register
    assert totals["copper"] == len(YARD.truth) - 1
    assert withheld_on(data(after), AFTER, UTC) == []
    assert len(withheld_on(data(after), AFTER, UTC, "export")) == len(YARD.truth)


def test_what_lasts_is_the_animals_own_at_its_next_job(tmp_path: Path) -> None:
    """A colour given once is known of the animal in another job, by kept; the condition is not."""
    (tmp_path / "sheet.toml").write_text(SHEET)

    async def two_jobs() -> tuple[Weighing, Weighing]:
        async with by_hand(tmp_path) as box:
            first = YARD.truth[0]
            await box.to(YARD, first.off_t - 1.0)
            await box.say("finding", name="colour", value="roan")
            await box.say("finding", name="condition", value=5)
            await box.to(YARD, first.off_t + 3.0)
            one = (await box.weighings())[1]
            await box.say("end")
            await box.to(YARD, YARD.truth[-1].off_t + 400)
        async with by_hand(tmp_path, later_h=4) as again:
            await again.say("begin", file="sheet.toml")
            await again.to(YARD, first.off_t + 3.0)
            two = (await again.weighings())[max(await again.weighings())]
        return one, two

    one, two = run(two_jobs())
    assert two.tag == one.tag or (two.tag and one.tag and two.tag.id == one.tag.id)
    assert [(seen.name, seen.value, seen.by) for seen in two.findings] == [
        *(("condition", 3, "usual"), ("colour", "roan", "kept"))
    ]


def test_round_again_and_treated_this_morning_it_is_one_dose(tmp_path: Path) -> None:
    """The same mob twice on one day, in two jobs: register, volume and withheld list have one dose each."""
    (tmp_path / "sheet.toml").write_text(SHEET.replace("needed = true\n", ""))

    async def twice() -> dict[str, dict[str, Any]]:
        found: dict[str, dict[str, Any]] = {}
        async with by_hand(tmp_path) as box:
            await box.to(YARD, YARD.truth[-1].off_t + 60)
            await box.say("end")
        async with by_hand(tmp_path, later_h=4) as again:
            await again.say("begin", file="sheet.toml")
            await again.to(YARD, YARD.truth[-1].off_t + 60)
            given = await again.say("skip", treatment="drench", given=True, number=max(await again.weighings()))
            assert given["done"]
            await again.service.journal.append()
            for event in await again.service.journal.weighings():
                if isinstance(event.data, Weighing):
                    found[event.data.weighing] = event.data.model_dump(mode="json")
        return found

    rows = list(run(twice()).values())
    assert len(rows) == 2 * len(YARD.truth)
    drenches = [one for one in doses(rows, UTC) if one.product == "oral drench"]
    by_tag = [str(one.tag) for one in drenches]
    last = YARD.truth[-1].tag
    assert sorted(set(by_tag)) == sorted({str(stay.tag) for stay in YARD.truth})
    assert [tag for tag in by_tag if by_tag.count(tag) > 1] == [last, last], "a person said that it was given again"
    again = [one for data in rows for one in data["treatments"] if one["given_before"]]
    assert all(one["skipped"] and "not given again unless you say so" in one["remark"] for one in again)
    assert len(withheld_on(rows, DAY, UTC)) == len(YARD.truth)


def test_an_expired_batch_is_told_when_the_job_begins_and_at_each_dose(tmp_path: Path) -> None:
    """In the answer, as a trouble until another batch is used, and beside the dose."""
    (tmp_path / "sheet.toml").write_text(SHEET.replace("round_to_ml = 5", 'batch = "B7"\nexpires = 2026-11-23'))

    async def day() -> tuple[dict[str, Any], list[str], list[str], Weighing]:
        async with by_hand(tmp_path) as box:
            begun = await box.say("begin", file="sheet.toml")
            await box.to(YARD, YARD.truth[0].off_t + 4.0)
            standing = [one.about for one in box.service.status().troubles]
            await box.say("batch", treatment="drench", batch="B8", expires="2027-05-01")
            await box.to(YARD, YARD.truth[1].off_t + 4.0)
            after = [one.about for one in box.service.status().troubles]
            return begun, standing, after, (await box.weighings())[1]

    begun, standing, after, one = run(day())
    assert "The batch B7 of oral drench expired on 2026-11-23: use another, or mend the date." in begun["text"]
    assert "expired" in standing
    assert "expired" not in after
    assert "batch expired on 2026-11-23" in str(one.treatments[0].remark)


def test_the_running_box_lists_who_may_not_go(tmp_path: Path) -> None:
    (tmp_path / "sheet.toml").write_text(SHEET)

    async def day() -> list[dict[str, Any]]:
        async with by_hand(tmp_path) as box:
            await box.to(YARD, YARD.truth[-1].off_t + 60)
            held = await box.say("withheld", on="2026-12-01")
            clear = await box.say("withheld", on="2026-12-23")
            abroad = await box.say("withheld", on="2026-12-23", export=True)
            return [held, clear, abroad]

    held, clear, abroad = run(day())
    assert {one["tag"] for one in held["withheld"]} == {stay.tag for stay in YARD.truth}
    assert {one["until"] for one in held["withheld"]} == {"2026-12-23"}
    assert held["text"].startswith(f"{len(YARD.truth)} withheld for meat on 2026-12-01:")
    assert "label, veterinarian and local rules decide" in held["text"]
    assert clear["withheld"] == []
    assert clear["text"].startswith("No animal known here is withheld for meat on 2026-12-23.")
    assert {one["until"] for one in abroad["withheld"]} == {None}, "copper has no days for export: not known"
    reasons = {(why["product"], why["until"]) for one in abroad["withheld"] for why in one["because"]}
    assert reasons == {("oral drench", "2027-01-06"), ("copper", None)}
