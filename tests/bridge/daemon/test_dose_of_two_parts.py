"""Killed while an animal stands there, and begun anew under another sheet: what either part showed was given.

The box has one weighing of both parts, under the sheet of the first.  A dose that only the second part showed was on
show all the same, and whoever stood there may have given it: it stands, and is asked about.
"""

from collections.abc import Awaitable, Callable

import pytest

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.bridge.job.doses.shown import OTHER_SHEET
from tests.support.box import Box, lived

TAG = "999000000112233"
THREE = 'title = "Three"\n[[treatments]]\nname = "oral drench"\nml = 20\nwithhold_days = 60\n'
LAMBS = 'title = "Lambs"\n[[treatments]]\nname = "vaccine"\nml = 2\nwithhold_days = 0\n'
BARE = 'title = "Bare"\n[[draft]]\npen = "all"\n'
Doses = list[tuple[str, bool, float | None, bool]]


async def _stands_on(box: Box) -> None:
    await box.shows(5.0, 352.0, TAG)


async def _killed_again(box: Box) -> None:
    await box.shows(5.0, 352.0, TAG)
    await box.restart(4.0)
    await box.shows(5.0, 352.0, TAG)


async def _killed_thrice(box: Box) -> None:
    await _killed_again(box)
    await box.restart(4.0)
    await box.shows(5.0, 352.0, TAG)


def _doses(one: Weighing) -> Doses:
    return [(dose.name, dose.skipped, dose.amount, OTHER_SHEET in (dose.remark or "")) for dose in one.treatments]


async def _of_two_sheets(box: Box, first: str, second: str, first_s: float = 5.0, away_s: float = 4.0) -> None:
    assert (await box.says(kind="begin", text=first))["done"]
    await box.shows(3.0, 0.0)
    await box.shows(first_s, 352.0, TAG)
    await box.restart(away_s)
    if second:
        assert (await box.says(kind="begin", text=second))["done"]


@pytest.mark.parametrize("goes_on", [_stands_on, _killed_again, _killed_thrice])
@pytest.mark.parametrize(
    ("sheets", "first_s", "doses"),
    [
        ((THREE, LAMBS), 5.0, [("oral drench", False, 20.0, False), ("vaccine", False, 2.0, True)]),
        ((BARE, LAMBS), 5.0, [("vaccine", False, 2.0, True)]),
        ((BARE, LAMBS), 0.9, [("vaccine", False, 2.0, True)]),  # before it had settled
        ((THREE, ""), 5.0, [("oral drench", False, 20.0, False)]),
        ((THREE, THREE.replace("Three", "Same")), 5.0, [("oral drench", False, 20.0, False)]),
        ((THREE, BARE), 5.0, [("oral drench", False, 20.0, False)]),
    ],
)
def test_what_either_part_showed_stands(
    goes_on: Callable[[Box], Awaitable[None]], sheets: tuple[str, str], first_s: float, doses: Doses
) -> None:
    async def day(box: Box) -> list[list[Weighing]]:
        await _of_two_sheets(box, *sheets, first_s)
        await goes_on(box)
        await box.shows(4.0, 0.0)
        told = [box.weighings()]
        assert (await box.says(kind="note", number=1, text="lame"))["done"]
        told.append(box.weighings())
        await box.restart(60.0)
        assert (await box.says(kind="note", number=1, text="near hind"))["done"]
        return [*told, box.weighings()]

    for (one,) in lived(day):
        assert (one.number, one.sheet) == (1, sheets[0].split('"')[1])
        assert _doses(one) == doses
        assert (Flag.DOSE_DOUBTFUL in one.flags) == any(doubted for *_, doubted in doses)


@pytest.mark.parametrize("restarted", [False, True])
def test_moved_under_the_second_sheet_its_dose_is_in_no_doubt_and_the_firsts_is(*, restarted: bool) -> None:
    async def day(box: Box) -> list[list[Weighing]]:
        await _of_two_sheets(box, THREE, LAMBS)
        await _stands_on(box)
        await box.shows(4.0, 0.0)
        if restarted:
            await box.restart(60.0)
        asked = (await box.says(kind="resume", **{"from": 1}))["asked"]
        told = [box.weighings()]
        assert (await box.says(kind="undo", asked=asked))["done"]
        return [*told, box.weighings()]

    (moved,), (back,) = lived(day)
    assert (moved.sheet, back.sheet) == ("Lambs", "Three")
    assert sorted(_doses(moved)) == [("oral drench", False, 20.0, True), ("vaccine", False, 2.0, False)]
    assert _doses(back) == [("oral drench", False, 20.0, False), ("vaccine", False, 2.0, True)]


@pytest.mark.parametrize("restarted", [False, True])
def test_a_word_settles_it_and_taken_back_it_is_asked_again(*, restarted: bool) -> None:
    async def day(box: Box) -> list[list[Weighing]]:
        await _of_two_sheets(box, THREE, LAMBS)
        await _stands_on(box)
        await box.shows(4.0, 0.0)
        if restarted:
            await box.restart(60.0)
        told = []
        for given in (True, False):
            asked = (await box.says(kind="skip", treatment="vaccine", number=1, given=given))["asked"]
            told.append(box.weighings())
            assert (await box.says(kind="undo", asked=asked))["done"]
            told.append(box.weighings())
        return told

    told = [one for (one,) in lived(day)]
    assert [_doses(one)[1:] for one in told] == [
        [("vaccine", False, 2.0, False)],
        [("vaccine", False, 2.0, True)],
        [("vaccine", True, None, False)],
        [("vaccine", False, 2.0, True)],
    ]
    assert [Flag.DOSE_DOUBTFUL in one.flags for one in told] == [False, True, False, True]


def test_the_place_of_the_second_is_the_wholes_where_the_first_came_in_a_pause() -> None:
    async def day(box: Box) -> list[Weighing]:
        assert (await box.says(kind="begin", text=THREE))["done"]
        await box.shows(3.0, 0.0)
        assert (await box.says(kind="pause"))["done"]
        await box.shows(5.0, 352.0, TAG)
        await box.restart(4.0)
        assert (await box.says(kind="begin", text=LAMBS))["done"]
        await _stands_on(box)
        await box.shows(4.0, 0.0)
        return box.weighings()

    (one,) = lived(day)
    assert (one.sheet, _doses(one)) == ("Lambs", [("vaccine", False, 2.0, False)])


@pytest.mark.parametrize("again", [False, True])
def test_what_the_second_showed_is_its_own_where_its_tag_turns_out_to_be_anothers(*, again: bool) -> None:
    """It was known by no tag of its own as it left, and by one that was heard late."""

    async def day(box: Box) -> list[list[Weighing]]:
        await _of_two_sheets(box, THREE, LAMBS, away_s=12.0)
        await box.shows(5.0, 352.0)
        await box.shows(1.0, 0.0)
        told = [box.weighings()]
        if again:
            assert (await box.says(kind="note", number=1, text="lame"))["done"]
        await box.shows(5.0, 0.0, "999000000112299")
        await box.shows(700.0, 0.0)
        return [*told, box.weighings()]

    whole, parted = lived(day)
    assert [_doses(one) for one in whole] == [
        [("oral drench", False, 20.0, False), ("vaccine", False, 2.0, True)],
    ]
    assert [_doses(one) for one in parted] == [[("oral drench", False, 20.0, False)], [("vaccine", False, 2.0, False)]]
    assert not any(Flag.DOSE_DOUBTFUL in one.flags for one in parted)


def test_two_weighings_that_turn_out_to_be_one_have_what_either_showed() -> None:
    """It had moved by more than one animal's weight does, and its tag was heard as it left."""

    async def day(box: Box) -> list[list[Weighing]]:
        await _of_two_sheets(box, THREE, LAMBS)
        await box.shows(5.0, 354.5)
        await box.shows(1.0, 0.0)
        told = [box.weighings()]
        await box.shows(5.0, 0.0, TAG)
        await box.shows(700.0, 0.0)
        told.append(box.weighings())
        assert (await box.says(kind="note", number=1, text="lame"))["done"]
        return [*told, box.weighings()]

    two, *one = lived(day)
    assert [_doses(of) for of in two] == [[("oral drench", False, 20.0, False)], [("vaccine", False, 2.0, False)]]
    for whole, struck in one:
        assert _doses(whole) == [("oral drench", False, 20.0, False), ("vaccine", False, 2.0, True)]
        assert (struck.told_in, struck.treatments) == (whole.weighing, ())
