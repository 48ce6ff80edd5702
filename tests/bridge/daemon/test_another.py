"""Asked whether it is the animal before it again, a person says that it is another, and gives it its dose."""

import pytest

from neckyoke.bridge.events import Flag, Weighing
from tests.bridge.daemon.test_again_after_restart import DOSE, A, B, ended, held
from tests.support.box import Box, given, lived


def tag(one: Weighing) -> str | None:
    return one.tag.id if one.tag else None


@pytest.mark.parametrize("left", [False, True])
def test_it_wears_the_tag_of_that_one_no_more_and_is_in_doubt_no_more(*, left: bool) -> None:
    async def day(box: Box) -> None:
        await held(box, A)
        first = box.shown().weighing
        if left:
            await box.shows(2, 0)
            assert [tag(one) for one in box.weighings()] == [A, A]
        answer = await box.says(kind="skip", treatment=DOSE, given=True, weighing=first)
        assert answer["done"]
        if not left:
            assert (box.shown().tag, box.shown().maybe_same, box.shown().may_leave) == (None, None, True)
        await ended(box)
        one, two = box.weighings()
        assert (tag(one), tag(two), given([one, two])) == (A, None, [True, True])
        assert two.flags == (Flag.NO_TAG, Flag.TAG_ELSEWHERE)
        assert two.maybe_same is None

        await box.says(kind="undo", asked=answer["asked"])
        one, two = box.weighings()
        assert (tag(one), tag(two), given([one, two])) == (A, A, [True, False])
        assert Flag.MAYBE_SAME in two.flags

    lived(day)


def test_a_person_may_say_which_it_wears() -> None:
    async def day(box: Box) -> None:
        await held(box, A)
        await box.says(kind="skip", treatment=DOSE, given=True)
        await box.says(kind="identify", tag=B)
        await ended(box)
        assert [tag(one) for one in box.weighings()] == [A, B]

    lived(day)


def test_said_otherwise_afterwards_it_may_be_that_one_again() -> None:
    async def day(box: Box) -> None:
        await held(box, A)
        await box.says(kind="skip", treatment=DOSE, given=True)
        await box.says(kind="skip", treatment=DOSE, given=False)
        assert box.shown().tag is not None
        assert box.shown().maybe_same is not None
        await ended(box)
        assert [tag(one) for one in box.weighings()] == [A, A]
        assert given(box.weighings()) == [True, False]

    lived(day)


def test_after_a_restart_the_doubt_is_taken_away_too() -> None:
    async def day(box: Box) -> None:
        await held(box)
        await ended(box)
        await box.restart(200.0)
        answer = await box.says(kind="skip", treatment=DOSE, given=True, number=2)
        two = box.weighings()[1]
        assert (two.maybe_same, Flag.MAYBE_SAME in two.flags, given([two])) == (None, False, [True])
        await box.says(kind="undo", asked=answer["asked"])
        two = box.weighings()[1]
        assert (two.maybe_same is None, Flag.MAYBE_SAME in two.flags, given([two])) == (False, True, [False])

    lived(day)


def test_another_amount_says_it_too_and_a_batch_says_nothing() -> None:
    async def day(box: Box) -> None:
        await held(box)
        await box.says(kind="dose", treatment=DOSE, batch="B7")
        assert box.shown().maybe_same is not None
        await box.says(kind="dose", treatment=DOSE, amount=12)
        assert box.shown().maybe_same is None

    lived(day)
