"""What was shown as an animal stood there was given, whichever sheet holds later; what was not is asked about.

Who was weighed in a pause and is counted in later was shown no dose.  Who was shown one keeps it where its job is begun
anew, taken back, or takes in others.
"""

from typing import Any

import pytest

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.bridge.job.doses.shown import NONE_SHOWN, NOT_SHOWN, OTHER_SHEET
from tests.support.box import Box, lived

TAGS = ("999000000112233", "999000000112234", "999000000112235")


async def _passes(box: Box, kg: float, tag: str | None) -> None:
    await box.shows(7.0, kg, tag)
    await box.shows(4.0, 0.0)


async def _a_pause_forgotten(box: Box) -> list[Weighing]:
    await box.shows(3.0, 0.0)
    await _passes(box, 318.0, TAGS[0])
    told = await box.says(kind="pause")
    assert told["done"], told["text"]
    await _passes(box, 352.0, TAGS[1])
    await _passes(box, 290.0, TAGS[2])
    told = await box.says(kind="resume", **{"from": 2})
    assert told["done"], told["text"]
    return box.weighings()


def _asked(weighings: list[Weighing]) -> list[bool]:
    return [Flag.DOSE_DOUBTFUL in one.flags for one in weighings]


def test_no_dose_was_shown_and_it_is_asked_whether_it_was_given() -> None:
    shown, *unshown = lived(_a_pause_forgotten)
    assert _asked([shown, *unshown]) == [False, True, True]
    assert shown.treatments[0].remark is None
    for one in unshown:
        (dose,) = one.treatments
        assert (
            dose.remark
            == "no dose was shown, for this sheet did not hold as it stood there: if it was not given, say so"
        )
        assert not dose.skipped
        assert dose.withheld_until == "2026-12-23", "it may have been given"


@pytest.mark.parametrize(("kind", "given"), [("give", True), ("skip", False)])
def test_one_word_settles_them_all_and_another_leaves_the_doubt(kind: str, *, given: bool) -> None:
    async def day(box: Box) -> tuple[list[Weighing], list[Weighing]]:
        await _a_pause_forgotten(box)
        assert (await box.says(kind="note", job_number=3, text="lame"))["done"]
        noted = box.weighings()
        request = {"kind": "skip", "treatment": "oral drench", "job_number": 2, "to": 3}
        assert (await box.says(**request, **({"given": True} if given else {})))["done"]
        return noted, box.weighings()

    noted, said = lived(day)
    assert _asked(noted) == [False, True, True]
    assert noted[2].notes == ("lame",)
    assert _asked(said) == [False, False, False]
    assert [not one.treatments[0].skipped for one in said] == [True, given, given]


@pytest.mark.parametrize("restarted", [False, True])
@pytest.mark.parametrize("word", [{"kind": "skip"}, {"kind": "skip", "given": True}, {"kind": "dose", "amount": 7}])
def test_a_word_taken_back_leaves_the_doubt(word: dict[str, Any], *, restarted: bool) -> None:
    async def day(box: Box) -> tuple[list[Weighing], list[Weighing]]:
        await _a_pause_forgotten(box)
        if restarted:
            await box.restart(60.0)
        asked = (await box.says(**word, treatment="oral drench", job_number=2))["asked"]
        said = box.weighings()
        assert (await box.says(kind="undo", asked=asked))["done"]
        return said, box.weighings()

    said, undone = lived(day)
    assert _asked(said) == [False, False, True]
    assert _asked(undone) == [False, True, True]
    assert undone[1].treatments[0].remark == NONE_SHOWN


def test_one_counted_in_after_a_restart_is_asked_about_and_is_not_given_what_it_had() -> None:
    async def day(box: Box) -> list[Weighing]:
        await box.shows(3.0, 0.0)
        await _passes(box, 318.0, TAGS[0])
        assert (await box.says(kind="pause"))["done"]
        await _passes(box, 319.0, TAGS[0])
        await _passes(box, 352.0, TAGS[1])
        await box.shows(700.0, 0.0)
        await box.restart(60.0)
        assert (await box.says(kind="resume", **{"from": 2}))["done"]
        return box.weighings()

    first, again, other = lived(day)
    assert [one.treatments[0].skipped for one in (first, again, other)] == [False, True, False]
    assert Flag.WITHHELD in again.flags
    assert _asked([first, again, other]) == [False, False, True]


@pytest.mark.parametrize("restarted", [False, True])
@pytest.mark.parametrize("tag", [TAGS[1], None])
def test_one_that_is_counted_in_and_out_again_has_neither_dose_nor_doubt(tag: str | None, *, restarted: bool) -> None:
    async def day(box: Box) -> list[list[Weighing]]:
        await box.shows(3.0, 0.0)
        await _passes(box, 318.0, TAGS[0])
        assert (await box.says(kind="pause"))["done"]
        await _passes(box, 352.0, tag)
        if restarted:
            await box.shows(700.0, 0.0)
            await box.restart(60.0)
        told = []
        for _ in range(2):
            asked = (await box.says(kind="resume", **{"from": 2}))["asked"]
            told.append(box.weighings())
            assert (await box.says(kind="undo", asked=asked))["done"]
            told.append(box.weighings())
        return told

    for at, (_, one) in enumerate(lived(day)):
        counted = at % 2 == 0
        assert [dose.remark for dose in one.treatments] == ([NONE_SHOWN] if counted else [])
        assert (Flag.DOSE_DOUBTFUL in one.flags) == counted
        assert (Flag.PAUSED in one.flags) != counted


@pytest.mark.parametrize("restarted", [False, True])
@pytest.mark.parametrize(("said", "doubted"), [({}, True), ({"given": True}, False), ({"given": False}, False)])
def test_whoever_strikes_it_out_and_says_whether_it_was_given_settles_it(
    said: dict[str, bool], *, doubted: bool, restarted: bool
) -> None:
    async def day(box: Box) -> tuple[list[Weighing], list[Weighing]]:
        await _a_pause_forgotten(box)
        if restarted:
            await box.restart(60.0)
        answer = await box.says(kind="void", job_number=2, reason="leant on the gate", **said)
        assert answer["done"], answer["text"]
        struck = box.weighings()
        assert (await box.says(kind="undo", asked=answer["asked"]))["done"]
        return struck, box.weighings()

    struck, undone = lived(day)
    assert _asked(struck) == [False, doubted, True]
    (dose,) = struck[1].treatments
    assert (dose.skipped, dose.remark) == (said.get("given") is False, NONE_SHOWN if doubted else None)
    words = "; oral drench was given" if said.get("given") else "; none of its doses was given" if said else ""
    assert struck[1].why == f"a person struck it out: leant on the gate{words}"
    assert _asked(undone) == [False, True, True]
    assert (undone[1].doses_said, undone[1].treatments[0].remark) == ((), NONE_SHOWN)


@pytest.mark.parametrize("when", ["standing", "gone"])
@pytest.mark.parametrize("restarted", [False, True])
def test_who_was_asked_about_stays_so_where_one_that_passed_between_is_counted_in(
    when: str, *, restarted: bool
) -> None:
    """Nobody said whether it was the first again: it is not said to have been taken for that one by mistake."""

    async def day(box: Box) -> list[list[Weighing]]:
        await box.shows(3.0, 0.0)
        await _passes(box, 318.0, None)
        assert (await box.says(kind="pause"))["done"]
        await _passes(box, 352.0, TAGS[1])
        assert (await box.says(kind="resume"))["done"]
        await box.shows(5.0, 318.5)
        count_in = {"kind": "resume", "from": 2}
        asked = (await box.says(**count_in))["asked"] if when == "standing" else None
        await box.shows(2.0, 318.5)
        await box.shows(4.0, 0.0)
        asked = asked or (await box.says(**count_in))["asked"]
        if restarted:
            await box.restart(60.0)
        assert (await box.says(kind="note", number=3, text="lame"))["done"]
        told = [box.weighings()]
        assert (await box.says(kind="undo", asked=asked))["done"]
        return [*told, box.weighings()]

    for (_, passed, last), counted in zip(lived(day), (True, False), strict=True):
        assert (Flag.PAUSED in passed.flags) != counted
        assert last.maybe_same is not None
        assert last.maybe_same.number == 1
        assert last.treatments[0].skipped
        assert (last.treatments[0].remark or "").startswith("may have been given")
        assert Flag.NOT_GIVEN not in last.flags


THREE = 'title = "Three"\n[[treatments]]\nname = "oral drench"\nml = 20\nwithhold_days = 60\n'
LAMBS = 'title = "Lambs"\n[[treatments]]\nname = "vaccine"\nml = 2\nwithhold_days = 0\n'
TEN = 'title = "Ten"\n[[treatments]]\nname = "oral drench"\nml = 10\nwithhold_days = 28\n'
BARE = 'title = "Bare"\n[[draft]]\npen = "all"\n'


@pytest.mark.parametrize("restarted", [False, True])
@pytest.mark.parametrize("before", [BARE, LAMBS, TEN])
@pytest.mark.parametrize("said", [False, True])
def test_a_dose_that_was_shown_stands_where_its_sheet_is_taken_back(
    before: str, *, said: bool, restarted: bool
) -> None:
    async def day(box: Box) -> tuple[list[Weighing], list[Weighing]]:
        assert (await box.says(kind="begin", text=before))["done"]
        await box.shows(3.0, 0.0)
        await _passes(box, 318.0, TAGS[0])
        asked = (await box.says(kind="begin", text=THREE))["asked"]
        await _passes(box, 352.0, TAGS[1])
        if said:
            assert (await box.says(kind="skip", treatment="oral drench", job_number=1, given=True))["done"]
        if restarted:
            await box.shows(700.0, 0.0)
            await box.restart(60.0)
        taken = await box.says(kind="undo", asked=asked)
        assert taken["done"], taken["text"]
        moved = box.weighings()
        assert (await box.says(kind="note", job_number=2, text="lame"))["done"]
        return moved, box.weighings()

    for _, one in lived(day):
        assert one.job_number == 2
        drench = next(dose for dose in one.treatments if dose.name == "oral drench")
        assert (drench.skipped, drench.amount, drench.withheld_until) == (False, 20.0, "2027-01-24")
        assert (drench.remark == OTHER_SHEET) == (not said)
        assert (Flag.DOSE_DOUBTFUL in one.flags) == (not said)
        others = [(dose.name, dose.skipped, dose.remark) for dose in one.treatments if dose is not drench]
        assert others == ([("vaccine", True, NOT_SHOWN)] if before == LAMBS else [])
        assert (Flag.NOT_GIVEN in one.flags) == (before == LAMBS)


def test_the_same_dose_by_another_sheet_is_in_no_doubt_and_a_sheet_that_comes_back_finds_all_as_it_was() -> None:
    same = THREE.replace("Three", "Same")

    async def day(box: Box) -> list[list[Weighing]]:
        assert (await box.says(kind="begin", text=THREE))["done"]
        await box.shows(3.0, 0.0)
        await _passes(box, 318.0, TAGS[0])
        told = [box.weighings()]
        for text in (same, BARE, THREE):
            assert (await box.says(kind="begin", text=text))["done"]
            assert (await box.says(kind="resume", **{"from": 1}))["done"]
            told.append(box.weighings())
        return told

    first, *others = (
        [(one.amount, one.withheld_until, one.remark) for one in told[0].treatments] for told in lived(day)
    )
    assert first == [(20.0, "2027-01-24", None)]
    assert others == [first, [(20.0, "2027-01-24", OTHER_SHEET)], first]
