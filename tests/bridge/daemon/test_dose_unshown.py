"""Who was weighed in a pause and is counted in later was shown no dose: it counts, and a person is asked."""

import pytest

from neckyoke.bridge.events import Flag, Weighing
from tests.support.box import Box, lived

TAGS = ("999000000112233", "999000000112234", "999000000112235")


async def _passes(box: Box, kg: float, tag: str) -> None:
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
