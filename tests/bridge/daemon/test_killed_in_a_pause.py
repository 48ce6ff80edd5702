"""Killed while an animal stands there, the box has one stay of two parts: one number, one place, one count.

What a job is, and a pause, is our own (`neckyoke help tell`): no outside source.
"""

from collections.abc import Awaitable, Callable

import pytest

from neckyoke.bridge.events import Flag, Weighing
from tests.support.box import Box, lived

TAGS = tuple(f"9990000001122{n}" for n in range(33, 40))


async def passes(box: Box, at: int) -> None:
    await box.shows(7.0, 300.0 + 9 * at, TAGS[at])
    await box.shows(4.0, 0.0)


async def killed_while_one_stands_there(box: Box, kg: float = 352.0) -> None:
    await box.shows(5.0, kg, TAGS[5])
    await box.restart(5.0)
    await box.shows(4.0, kg, TAGS[5])


def places(box: Box) -> list[tuple[int, int | None]]:
    return [(one.number, one.job_number) for one in box.weighings()]


async def began(box: Box) -> None:
    await box.shows(3.0, 0.0)
    await box.says(kind="begin", file="sheet.toml")
    await passes(box, 0)


def test_the_next_animal_has_the_next_number_and_the_job_ended_with_as_many_as_stood_there() -> None:
    async def day(box: Box) -> tuple[list[tuple[int, int | None]], str]:
        await began(box)
        await killed_while_one_stands_there(box)
        await box.shows(4.0, 0.0)
        await passes(box, 1)
        return places(box), (await box.says(kind="end"))["text"]

    numbers, said = lived(day)
    assert numbers == [(1, 1), (2, 2), (4, 3)]
    assert "has ended with 3 stays" in said


async def gone(box: Box) -> str:
    await box.shows(4.0, 0.0)
    return str((await box.says(kind="resume", **{"from": 2}))["text"])


async def gone_and_stopped_again(box: Box) -> str:
    await box.shows(4.0, 0.0)
    await box.restart(60.0)
    return str((await box.says(kind="resume", **{"from": 2}))["text"])


async def standing(box: Box) -> str:
    said = await box.says(kind="resume", **{"from": 2})
    await box.shows(3.0, 352.0, TAGS[5])
    await box.shows(4.0, 0.0)
    return str(said["text"])


@pytest.mark.parametrize("when", [gone, gone_and_stopped_again, standing])
def test_killed_in_a_pause_it_is_counted_in_as_anybody(when: Callable[[Box], Awaitable[str]]) -> None:
    async def day(box: Box) -> tuple[str, list[Weighing], list[tuple[int, int | None]], str]:
        await began(box)
        await box.says(kind="pause")
        await passes(box, 1)
        await killed_while_one_stands_there(box)
        said = await when(box)
        weighings = box.weighings()
        await passes(box, 2)
        return said, weighings, places(box), (await box.says(kind="end"))["text"]

    said, weighings, numbers, ended = lived(day)
    assert "2 animals taken in" in said
    assert {one.job for one in weighings} == {weighings[0].job}
    assert [Flag.PAUSED in one.flags for one in weighings] == [False] * 3
    assert [len(one.treatments) for one in weighings] == [1, 1, 1]
    assert numbers == [(1, 1), (2, 2), (3, 3), (5, 4)]
    assert "has ended with 4 stays" in ended


def test_that_it_is_counted_in_can_be_taken_back() -> None:
    async def day(box: Box) -> list[Weighing]:
        await began(box)
        await box.says(kind="pause")
        await killed_while_one_stands_there(box)
        await box.shows(4.0, 0.0)
        await box.says(kind="resume", **{"from": 2})
        await box.says(kind="undo")
        return box.weighings()

    first, whole = lived(day)
    assert (first.job_number, whole.job_number, whole.job, Flag.PAUSED in whole.flags) == (1, None, None, True)
    assert whole.treatments == ()


def test_moved_to_another_job_the_whole_stay_is_there() -> None:
    async def day(box: Box) -> list[Weighing]:
        await began(box)
        await box.says(kind="end")
        await killed_while_one_stands_there(box)
        await box.shows(4.0, 0.0)
        await box.says(kind="resume", job="1")
        await passes(box, 1)
        return box.weighings()

    first, whole, after = lived(day)
    assert first.job == whole.job == after.job
    assert [one.job_number for one in (first, whole, after)] == [1, 2, 3]
