"""An animal that comes on again, the box killed in between or while it stands: what was given stays given.

Whatever was shown and said before a kill holds after it: see `neckyoke.bridge.station.again`.
"""

from typing import Any

import pytest

from neckyoke.bridge.events import Flag, Settled, Weighing
from tests.support.box import Box, given, lived

A, B = "999000000112233", "999000000112234"
DOSE = "oral drench"
LOOK = "may have been given today at 02:11, if this is number 1 again: look.  If it is another, give 10 mL and say so"
STOOD = "the box stopped while number 1 stood here, to be given 10 mL: look, and say whether this one has had it"


def remarks(shown: Settled) -> list[str | None]:
    return [one.remark for one in shown.treatments]


async def weighed(box: Box, kg: float = 318.0, tag: str | None = None) -> None:
    """Let one be weighed and dosed."""
    await box.shows(3, 0)
    await box.shows(8, kg, tag)
    assert [one.skipped for one in box.shown().treatments] == [False]
    await box.shows(2, 0)


async def ended(box: Box) -> list[Weighing]:
    await box.shows(2, 0)
    await box.to(box.t + 1.0)
    return box.weighings()


@pytest.mark.parametrize(
    ("away_s", "how", "doubted"),
    [
        (3.0, {}, True),
        (3.0, {"synchronised": False}, True),
        (3.0, {"boots": True}, True),
        (3.0, {"boots": True, "synchronised": False}, True),  # nobody knows for how long
        (70.0, {}, False),  # it had as long without a stop
        (70.0, {"boots": True}, False),
    ],
)
def test_it_is_asked_after_a_stop_between_both_as_without(away_s: float, how: dict[str, Any], *, doubted: bool) -> None:
    async def day(box: Box) -> None:
        await weighed(box)
        await box.restart(away_s)
        await box.shows(2, 0)
        await box.shows(6, 318.0)
        assert (remarks(box.shown()) == [LOOK]) is doubted
        assert box.shown().may_leave is not doubted
        assert given(await ended(box)) == [True, not doubted]

    lived(day, **how)


def test_one_that_weighs_otherwise_is_another_after_a_stop_too() -> None:
    async def day(box: Box) -> None:
        await weighed(box)
        await box.restart(3.0)
        await weighed(box, 340.0)
        assert given(await ended(box)) == [True, True]

    lived(day)


def test_on_again_as_the_box_is_back_it_may_have_come_on_meanwhile() -> None:
    async def day(box: Box) -> None:
        await weighed(box)
        await box.restart(100.0)
        await box.shows(6, 318.0)
        assert remarks(box.shown()) == [LOOK]

    lived(day)


def test_a_second_stop_before_it_is_back_forgets_nothing() -> None:
    async def day(box: Box) -> None:
        await weighed(box)
        await box.restart(3.0)
        await box.shows(2, 0)
        await box.restart(3.0)
        await box.shows(2, 0)
        await box.shows(6, 318.0)
        assert remarks(box.shown()) == [LOOK]

    lived(day)


@pytest.mark.parametrize(
    ("said", "offered"),
    [({"kind": "skip", "treatment": DOSE}, True), ({"kind": "note", "text": "lame"}, False)],
)
def test_what_is_said_of_the_first_after_the_stop_is_told_of_it_at_once(said: dict[str, Any], *, offered: bool) -> None:
    async def day(box: Box) -> None:
        await weighed(box)
        await box.restart(3.0)
        await box.shows(2, 0)
        await box.shows(6, 318.0)
        assert (await box.says(**said, number=1))["done"]
        assert [not one.skipped for one in box.shown().treatments] == [offered]

    lived(day)


@pytest.mark.parametrize("stop", [False, True])
def test_a_false_start_between_both_hides_nothing(*, stop: bool) -> None:
    async def day(box: Box) -> None:
        await weighed(box)
        await box.shows(1.2, 318.0)
        await box.shows(2, 0)
        if stop:
            await box.restart(3.0)
        await box.shows(6, 318.0)
        assert box.weighings()[1].settled is None
        assert box.shown().number == 3
        assert remarks(box.shown()) == [LOOK]

    lived(day)


async def held(box: Box, tag: str | None = None) -> None:
    """Let one be weighed and dosed, and come on again: it is to be looked at."""
    await weighed(box, tag=tag)
    await box.shows(1, 0)
    await box.shows(6, 318.0, tag)
    assert remarks(box.shown()) == [LOOK]


@pytest.mark.parametrize("tag", [None, A])
@pytest.mark.parametrize(("word", "second"), [(None, False), (False, False), (True, True)])
def test_what_was_shown_and_said_before_a_kill_holds_after_it(
    tag: str | None, *, word: bool | None, second: bool
) -> None:
    async def day(box: Box) -> None:
        await held(box, tag)
        if word is not None:
            await box.says(kind="skip", treatment=DOSE, given=word)
        await box.restart(3.0)
        first, now = box.weighings()
        assert given([first, now]) == [True, second]
        assert Flag.INTERRUPTED in now.flags
        await box.shows(6, 318.0, tag)
        assert [one.skipped for one in box.shown().treatments] == [True], "nor is it offered again as it stands there"
        told = word is True and tag is not None  # by the tag, which alone is heard: it was given it today
        assert box.shown().may_leave is told
        assert given(await ended(box)) == [True, second]

    lived(day)


def test_nor_to_one_that_comes_on_again_after_that() -> None:
    async def day(box: Box) -> None:
        await held(box)
        await box.restart(3.0)
        for _ in range(2):
            await box.shows(2, 0)
            await box.shows(6, 318.0)
            assert [one.skipped for one in box.shown().treatments] == [True]
            assert not box.shown().may_leave

    lived(day)


@pytest.mark.parametrize("word", [True, False])
def test_one_to_be_given_it_as_the_box_was_killed_is_asked_about_and_the_word_is_of_the_whole_stay(
    *, word: bool
) -> None:
    async def day(box: Box) -> None:
        await box.shows(3, 0)
        await box.shows(6, 318.0)
        assert [one.skipped for one in box.shown().treatments] == [False]
        await box.restart(2.0)
        assert given(box.weighings()) == [True], "shown, and nobody said otherwise"
        await box.shows(6, 318.0)
        shown = box.shown()
        assert shown.maybe_same is not None
        assert shown.maybe_same.since is not None
        assert remarks(shown) == [STOOD]
        await box.says(kind="skip", treatment=DOSE, given=word)
        assert box.shown().may_leave
        weighings = await ended(box)
        assert given(weighings)[-1] is word
        assert Flag.INTERRUPTED in weighings[0].flags

    lived(day)


def test_what_was_given_this_morning_is_not_recorded_again_where_the_box_is_killed_with_it_there() -> None:
    async def day(box: Box) -> None:
        await weighed(box, tag=A)
        await box.shows(70, 0)
        await weighed(box, 400.0, B)
        await box.shows(3, 0)
        await box.shows(6, 318.0, A)
        assert remarks(box.shown()) == ["given today at 02:11: not given again unless you say so"]
        await box.restart(3.0)
        assert given(box.weighings()) == [True, True, False]
        last = box.weighings()[-1]
        assert last.withheld != (), "what is known of it was looked up before it was told"

    lived(day)


def test_stopped_in_order_it_is_as_killed() -> None:
    async def day(box: Box) -> None:
        await held(box)
        assert box.service is not None
        box.service.pipeline.finish()
        await box.service.pipeline.keep_memory(5.0)
        await box.restart(3.0)
        assert given(box.weighings()) == [True, False]
        await box.shows(6, 318.0)
        assert [one.skipped for one in box.shown().treatments] == [True]
        assert given(await ended(box)) == [True, False]

    lived(day)
