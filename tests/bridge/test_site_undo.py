"""Whatever was said of an animal and taken back leaves all as if it had not been said.

A law of our own (`neckyoke help tell`): weighings, neighbours, pens, doses and tally are compared, all but revision,
`why` and event ids.  What the herd book has learned of an animal by a word, it keeps: `animal` is left out.
"""

from pathlib import Path
from typing import Any

import pytest

from tests.support.crush import STEERS, YARD, Crush

SHEET = STEERS + '[[findings]]\nname = "condition"\nchoices = [1, 2, 3]\n[[draft]]\npen = "all"\n'
TAGS = [stay.tag or "" for stay in YARD.truth]
WORDS: list[dict[str, Any]] = [
    {"kind": "note", "text": "lame"},
    {"kind": "void", "reason": "two on it"},
    {"kind": "skip", "treatment": "drench"},
    {"kind": "dose", "treatment": "drench", "amount": 3},
    {"kind": "finding", "name": "condition", "value": 2},
    {"kind": "identify"},
    {"kind": "identify", "visual": "105"},
    {"kind": "identify", "tag": "999000000112233"},
    {"kind": "identify", "tag": TAGS[1]},
    {"kind": "correct", "tag": TAGS[2], "visual": "106"},
]
APART = {"revision": 0, "why": None, "final": True, "final_at": None, "animal": None}


def day(folder: Path, words: list[dict[str, Any]], *, late: bool) -> Crush:
    """Weigh six, say something after the third, and take it back after the fifth, or (`late`) after the last."""
    crush = Crush(folder)
    crush.say("begin", text=SHEET)
    crush.weigh(0, 3)
    asked = []
    for word in words:
        answer = crush.say(**word)
        assert answer.done, answer.text
        asked.append(answer.asked)
        crush.t -= 1.0
    crush.weigh(3, 5)
    crush.say("note", number=1, text="seen in between")

    def take_back() -> None:
        for one in reversed(asked):
            answer = crush.say("undo", asked=one)
            assert answer.done, answer.text
            crush.t -= 1.0

    if not late:
        take_back()
    crush.weigh(5)
    if late:
        take_back()
    return crush


def said(crush: Crush) -> dict[int, dict[str, Any]]:
    return {n: one.model_copy(update=APART).model_dump(mode="json") for n, one in sorted(crush.latest.items())}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[int, dict[str, Any]]:
    return said(day(tmp_path_factory.mktemp("plain"), [], late=False))


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("word", WORDS, ids=lambda word: " ".join(str(one) for one in word.values())[:24])
def test_a_word_taken_back_was_never_said(
    tmp_path: Path, plain: dict[int, dict[str, Any]], word: dict[str, Any], *, late: bool
) -> None:
    assert said(day(tmp_path, [{**word, "number": 3}], late=late)) == plain


def test_several_words_taken_back_one_after_the_other(tmp_path: Path, plain: dict[int, dict[str, Any]]) -> None:
    words = [{**word, "number": 2 + at % 2} for at, word in enumerate(WORDS)]
    assert said(day(tmp_path, words, late=False)) == plain


def test_what_was_told_last_is_meant_without_a_name(tmp_path: Path) -> None:
    crush = Crush(tmp_path).weigh(0, 2)
    crush.say("note", number=1, text="lame")
    crush.say("void", number=2)
    assert crush.say("undo").text == "Taken back: Struck out number 2."
    assert (crush.latest[2].flags, crush.latest[1].notes) == ((), ("lame",))


def test_a_word_without_a_number_on_an_animal_that_has_left_wants_a_number_or_a_yes(tmp_path: Path) -> None:
    crush = Crush(tmp_path).weigh(0, 2)
    asked = crush.say("void")
    assert not asked.done
    assert f"number 2 ({TAGS[1]})" in asked.text
    assert crush.latest[2].flags == ()
    assert crush.say("void", yes=True).done
    assert crush.say("void", job_number=1).done
    assert crush.say("note", job_number=7, text="x").text == "Job 1 has no number 7."


def test_a_note_may_come_shortly_after_its_animal_has_left(tmp_path: Path) -> None:
    crush = Crush(tmp_path).weigh(0, 2)
    left = crush.site.stations["crush"].left(crush.t)
    assert left is not None
    crush.t -= left.ago_s - 5.0
    assert crush.say("note", text="lame").text == "Noted on number 2."
    crush.t += 20.0
    assert not crush.say("note", text="lame").done
