"""Each kind of request followed by its undo leaves all as if neither had been, a stop between them included.

A law of our own (README, "In the yards"): weighings with their animals, neighbours, pens and doses, the jobs and their
tallies, the herd book and what is asked are compared, all but revision, `why` and event ids.  The same over days drawn
at random is in test_undo_anything.py.
"""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.support.crush import LAMBS, STEERS, THINNED, YARD, Crush

TAGS = [stay.tag or "" for stay in YARD.truth]
NEW = "999000000112233"
SHEET = STEERS + (
    '[[findings]]\nname = "condition"\nchoices = [1, 2, 3]\n'
    '[[findings]]\nname = "colour"\nwords = true\nkeep = true\n[[draft]]\npen = "all"\n'
)
EXPIRED = STEERS.replace("withhold_days", 'expires = "2026-01-31"\nwithhold_days')
Word = dict[str, Any]
OF_STAYS: tuple[Word, ...] = (
    {"kind": "note", "number": 2, "text": "lame"},
    {"kind": "void", "number": 2},
    {"kind": "skip", "number": 2, "treatment": "drench"},
    {"kind": "dose", "number": 2, "treatment": "drench", "amount": 3},
    {"kind": "finding", "number": 2, "name": "condition", "value": 2},
    {"kind": "finding", "number": 2, "name": "colour", "value": "red"},
    {"kind": "identify", "number": 2},
    {"kind": "identify", "number": 2, "visual": "105"},
    {"kind": "identify", "number": 2, "tag": NEW},
    {"kind": "identify", "number": 2, "tag": TAGS[2]},
    {"kind": "correct", "number": 2, "tag": TAGS[2], "visual": "106"},
)
OF_HERD: tuple[Word, ...] = (
    {"kind": "retag", "was": TAGS[1], "tag": NEW},
    {"kind": "retag", "was": TAGS[1], "tag": TAGS[2]},
    {"kind": "name", "tag": TAGS[1], "visual": "105", "sex": "steer", "lasting": {"breed": "cross"}},
    {"kind": "name", "number": 2, "visual": "105"},
    {"kind": "mark", "tag": TAGS[1], "text": "vet"},
    {"kind": "unmark", "tag": TAGS[2], "text": "keep back"},
    {"kind": "merge", "tag": TAGS[1], "other": TAGS[2]},
    {"kind": "split", "tag": TAGS[3]},
    {"kind": "import", "header": ["tag", "sex"], "rows": {"2": [TAGS[1], "steer"], "3": [NEW, "heifer"]}},
    {"kind": "reply", "choice": "yes"},
    {"kind": "reply", "choice": "no"},
)
OF_JOB: tuple[Word, ...] = (
    {"kind": "begin"},
    {"kind": "begin", "bare": True},
    {"kind": "pause"},
    {"kind": "end"},
    {"kind": "sheet", "text": LAMBS},
    {"kind": "batch", "treatment": "drench", "batch": "B-2"},
    {"kind": "resume", "from": 2},
)
WORDS = (*OF_STAYS, *OF_HERD, *OF_JOB)
APART = {"revision": 0, "why": None, "final": True, "final_at": None}


def told(crush: Crush) -> Crush:
    """Let the herd book know what some of the words are about, and ask what some reply to."""
    for word in (
        {"kind": "mark", "tag": TAGS[2], "text": "keep back"},
        {"kind": "merge", "tag": TAGS[3], "other": TAGS[4]},
        {"kind": "identify", "number": 6, "visual": "300"},
        {"kind": "identify", "number": 1, "visual": "300"},
    ):
        crush.say(**word)
    return crush


def begun(folder: Path) -> Crush:
    """Weigh all six, and let the herd book be told of them: so begins every day of these laws."""
    crush = Crush(folder, yard=THINNED)
    crush.say("begin", text=SHEET)
    crush.weigh()
    crush.wait(1200.0)
    return told(crush)


@pytest.fixture(scope="session")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Crush:
    """Lived through once; each day goes on from a twin of it."""
    return begun(tmp_path_factory.mktemp("crush"))


def day(crush: Crush, word: Word | None, comes: int, *, stops: bool) -> Crush:
    """Say something, weigh one more, and take it back; let the box stop between."""
    asked = None
    if word is not None:
        answer = crush.say(**word)
        assert answer.done, answer.text
        asked = answer.asked
    else:
        crush.t += 1.0  # as long as it took to say
    crush.weigh(comes, comes + 1)
    crush = crush.stopped() if stops else crush
    if word is not None:
        answer = crush.say("undo", asked=asked)
        assert answer.done, answer.text
    else:
        crush.t += 1.0
    crush.weigh(2, 3)
    crush.wait(1200.0)
    crush.say("end")
    return crush.again()


def seen(crush: Crush) -> dict[str, Any]:
    """Return all that is to be the same."""
    weighings = {n: one.model_copy(update=APART).model_dump(mode="json") for n, one in sorted(crush.latest.items())}
    book = {one.animal: one.model_dump(mode="json", exclude={"revision", "change", "why"}) for one in crush.book}
    tallies = {one.job: (one.state, one.sheet, one.tally) for one in crush.jobs if one.state != "undone"}
    questions = [one.text for one in crush.site.keeper.questions.open()]
    gone = {one.job for one in crush.jobs if one.state == "undone"}
    left = {job: one for job, one in tallies.items() if job not in gone}
    return {"weighings": weighings, "book": book, "jobs": left, "questions": questions}


@pytest.fixture(scope="session")
def plain(morning: Crush) -> Callable[..., dict[str, Any]]:
    """Return what is seen of a day on which nothing was said."""
    return cache(lambda comes, stops: seen(day(morning.twin(), None, comes, stops=stops)))


def comes_between(word: Word, *, its: bool) -> int:
    """Return an animal that the word is about (`its`), or another."""
    return (0 if its else 2) if word["kind"] == "reply" else int(its)


@pytest.mark.parametrize(("its", "stops"), [(False, False), (False, True), (True, True)])
@pytest.mark.parametrize("word", WORDS, ids=lambda word: " ".join(str(one) for one in word.values())[:30])
def test_a_request_taken_back_was_never_made(
    morning: Crush, plain: Callable[..., dict[str, Any]], word: Word, *, its: bool, stops: bool
) -> None:
    comes = comes_between(word, its=its)
    assert seen(day(morning.twin(), word, comes, stops=stops)) == plain(comes, stops)


@pytest.mark.parametrize("word", [{"kind": "begin", "text": EXPIRED}, *WORDS[::5]], ids=lambda word: word["kind"])
def test_a_day_that_goes_on_from_a_twin_is_the_day_lived_from_its_beginning(
    tmp_path: Path, morning: Crush, word: Word
) -> None:
    """Or the laws here would be of twins: what is said to one of them never reaches another."""
    before = seen(morning)
    twin, fresh = morning.twin(), begun(tmp_path)
    said = []
    for crush in (twin, fresh):
        said.append(crush.say(**word))
        crush.weigh(2, 3)
        said.append(crush.say("end"))
    assert said[:2] == said[2:]
    assert seen(twin.again()) == seen(fresh.again())
    assert seen(morning) == before
