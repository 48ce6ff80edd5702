"""What is told of many animals at once is one word: it is taken back as one, whoever told it, and over a restart."""

from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from neckyoke.bridge.asking.at_once import told_of_all
from neckyoke.bridge.asking.requests import Answer
from tests.support.box import Box, given, lived

TAGS = tuple(f"99900000011223{n}" for n in range(4))
ALL = [True, True, True, True]
FIRST = [True, False, False, False]


async def _four(box: Box) -> None:
    await box.shows(3.0, 0.0)
    for at, tag in enumerate(TAGS):
        await box.shows(7.0, 318.0 + 9 * at, tag)
        await box.shows(4.0, 0.0)
    assert given(box.weighings()) == ALL


async def _skips(box: Box, **more: Any) -> None:
    told = await box.says(kind="skip", treatment="oral drench", job_number=2, to=4, **more)
    assert told["text"] == "oral drench: not given to numbers 2 to 4."
    assert given(box.weighings()) == FIRST


async def _at_once(box: Box) -> None:
    """Undo it at once."""


async def _after_another_word(box: Box) -> None:
    """A word since is taken back first, and by itself."""
    assert (await box.says(kind="note", job_number=3, text="lame"))["done"]
    assert (await box.says(kind="undo"))["done"]
    assert [one.notes for one in box.weighings()] == [()] * 4
    assert given(box.weighings()) == FIRST


async def _restarted(box: Box) -> None:
    """Only the journal knows them."""
    await box.restart(60.0)
    await box.shows(1.0, 0.0)


@pytest.mark.parametrize("between", [_at_once, _after_another_word, _restarted])
@pytest.mark.parametrize("name", [None, "from-a-phone"])
def test_one_undo_takes_the_whole_range_back(between: Callable[[Box], Awaitable[None]], name: str | None) -> None:
    async def day(box: Box) -> tuple[dict[str, Any], list[bool]]:
        await _four(box)
        await _skips(box, **({"id": name} if name else {}))
        await between(box)
        return await box.says(kind="undo"), given(box.weighings())

    told, doses = lived(day)
    assert (told["done"], told["text"]) == (True, "Taken back: oral drench: not given to numbers 2 to 4.")
    assert doses == ALL


def test_the_same_undo_that_comes_twice_takes_one_word_back() -> None:
    async def day(box: Box) -> list[Any]:
        await _four(box)
        assert (await box.says(kind="note", job_number=1, text="lame"))["done"]
        await _skips(box)
        first = await box.says(kind="undo", id="u")
        again = await box.says(kind="undo", id="u")
        assert first["text"] == again["text"]
        return [given(box.weighings()), box.weighings()[0].notes]

    assert lived(day) == [ALL, ("lame",)]


def test_words_of_one_sender_on_one_animal_each_are_taken_back_each() -> None:
    """Names that look like parts make no whole."""

    async def day(box: Box) -> list[bool]:
        await _four(box)
        for number in (2, 3, 4):
            said = await box.says(kind="skip", treatment="oral drench", job_number=number, id=f"shed/{number}")
            assert said["done"]
        assert (await box.says(kind="undo"))["done"]
        return given(box.weighings())

    assert lived(day) == [True, False, False, True]


def test_a_range_begun_after_its_last_animal_was_taken_back_is_what_is_left_of_it() -> None:
    async def day(box: Box) -> list[bool]:
        await _four(box)
        await _skips(box, id="x")
        assert (await box.says(kind="undo", asked="x/4"))["done"]
        assert given(box.weighings()) == [True, False, False, True]
        assert (await box.says(kind="undo"))["done"]
        return given(box.weighings())

    assert lived(day) == ALL


NOT_GIVEN, GIVEN, ML = (
    "drench: not given to number {}.",
    "drench: given to number {}.",
    "drench: 12.5 ml given to number {}.",
)


def _answers(text: str, *numbers: int, done: bool = True) -> list[Answer]:
    return [Answer(done=done, text=text.format(number)) for number in numbers]


@pytest.mark.parametrize(
    ("answers", "told"),
    [
        (_answers(NOT_GIVEN, 4, 3, 2), "drench: not given to numbers 2 to 4."),
        (_answers(ML, 2, 6), "drench: 12.5 ml given to numbers 2 to 6 (2 of these 5)."),
        (
            _answers(GIVEN, 2, 3) + _answers("Job 1 has no number {}.", 4, 5, done=False),
            "drench: given to numbers 2 to 3.  Not for 2: Job 1 has no number 4.",
        ),
        (_answers(GIVEN, 2), "Done for 1 of 1: drench: given to number 2."),
        (_answers("drench: given to number {}.  Which?", 2, 3), "Done for 2 of 2: drench: given to number 2.  Which?"),
        (_answers("Job 1 has no number {}.", 4, 5, done=False), "Job 1 has no number 4."),
    ],
)
def test_one_sentence_tells_of_all(answers: list[Answer], told: str) -> None:
    assert told_of_all(answers) == told
