"""Each kind of request followed by its undo leaves all as if neither had been, a stop between them included.

A law of our own (README, "In the yards"): weighings with their animals, neighbours, pens and doses, the jobs and their
tallies, the herd book and what is asked are compared, all but revision, `why` and event ids.  The same over days drawn
at random is in test_undo_anything.py.
"""

import tempfile
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


def day(folder: Path, word: Word | None, comes: int, *, stops: bool) -> Crush:
    """Weigh all six, say something, weigh one more, and take it back; let the box stop between."""
    crush = Crush(folder, yard=THINNED)
    crush.say("begin", text=SHEET)
    crush.weigh()
    crush.wait(1200.0)
    told(crush)
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


@cache
def plain(comes: int, *, stops: bool) -> dict[str, Any]:
    with tempfile.TemporaryDirectory() as folder:
        return seen(day(Path(folder), None, comes, stops=stops))


def comes_between(word: Word, *, its: bool) -> int:
    """Return an animal that the word is about (`its`), or another."""
    return (0 if its else 2) if word["kind"] == "reply" else int(its)


@pytest.mark.parametrize(("its", "stops"), [(False, False), (False, True), (True, True)])
@pytest.mark.parametrize("word", WORDS, ids=lambda word: " ".join(str(one) for one in word.values())[:30])
def test_a_request_taken_back_was_never_made(tmp_path: Path, word: Word, *, its: bool, stops: bool) -> None:
    comes = comes_between(word, its=its)
    assert seen(day(tmp_path, word, comes, stops=stops)) == plain(comes, stops=stops)
