"""What the ways of drafting share.  How people write numbers and units: common practice, no source."""

import random
from collections import Counter
from collections.abc import Callable
from itertools import accumulate, product

import pytest

from neckyoke.protocols.recognition.drafting.sketch import NO_UNIT, Sketch, is_status, parse, tell_apart, usual_texts
from tests.protocols.spelling import Shown
from tests.protocols.streams import crossing


@pytest.mark.parametrize(
    ("text", "number"),
    [
        (b"412.5", 412.5),
        (b"  412,5 ", 412.5),
        (b"+412", 412.0),
        (b"-  4.5", -4.5),
        (b".5", 0.5),
        (b",5", 0.5),
        (b"12.", 12.0),
        (b"12,", 12.0),
        (b"0", 0.0),
        (b"1,234.5", 1234.5),
        (b"12,345", 12345.0),
        (b"- 1,234,567", -1234567.0),
        (b"0,345", 0.345),  # no thousands begin with a nought
        (b"1234,567", 1234.567),
        (b"1,23", 1.23),
        (b"", None),
        (b"-", None),
        (b".", None),
        (b"1.2.3", None),
        (b"12 5", None),
        (b"ST", None),
        (b"12kg", None),
        (b"--1", None),
    ],
)
def test_a_number_is_read_as_people_write_it(text: bytes, number: float | None) -> None:
    assert parse(text) == number


def spread(*times: int) -> list[bytes]:
    """Make texts that are no numbers, the first of them so often, and so on."""
    return [b"Z%c" % (65 + at) for at, often in enumerate(times) for _ in range(often)]


@pytest.mark.parametrize(
    ("texts", "kept"),
    [
        (spread(98, 2), [98]),  # below three in a hundred it is damage
        (spread(97, 3), [97, 3]),
        (spread(195, 5), [195]),
        (spread(194, 6), [194, 6]),
        (spread(19, 1), [19]),  # once is damage in any case
        (spread(18, 2), [18, 2]),
        ([b" ZA", b"ZA ", b"ZA", b"  ", b""], [3, 2]),  # blanks around do not count
        ([], []),
    ],
)
def test_texts_seen_rarely_are_damage(texts: list[bytes], kept: list[int]) -> None:
    assert list(usual_texts(texts).values()) == kept


@pytest.mark.parametrize(
    ("texts", "so"),
    [
        (spread(50, 50), True),
        (spread(100), False),  # it says nothing
        (spread(*[10] * 8), True),
        (spread(*[10] * 9), False),
        ([*spread(43, 43), *(b"%d" % at for at in range(14))], True),
        ([*spread(43, 42), *(b"%d" % at for at in range(15))], False),  # too many that are seen once
        ([b"0", b"1", b"A", b"f"] * 9, True),
        ([b"0", b"1", b"A", b"f", b"09"] * 9, False),  # so many hexadecimal digits are a number
        ([b"0", b"1", b"A", b"f", b"G"] * 9, True),  # no hexadecimal digit
    ],
)
def test_a_status_has_few_texts(texts: list[bytes], *, so: bool) -> None:
    assert is_status(texts) is so


def told(*some: tuple[int, str, float]) -> tuple[dict[str, list[str]], list[str]]:
    """Let so many frames with a text come, the weight another by so much from each to the next."""
    frames = [(text, step) for times, text, step in some for _ in range(times)]
    return tell_apart([text.encode() for text, _ in frames], list(accumulate(step for _, step in frames)))


@pytest.mark.parametrize(
    ("frames", "meanings"),
    [
        ([(10, "Q", 1.0), (10, "X", 2.5)], {"stable": ["Q"], "moving": ["X"]}),
        ([(10, "X", 2.5), (10, "Q", 1.0)], {"stable": ["Q"], "moving": ["X"]}),
        ([(10, "Q", 1.0), (10, "X", -2.5)], {"stable": ["Q"], "moving": ["X"]}),
        ([(10, "Q", 1.0), (10, "X", 2.0)], {"ignored": ["Q", "X"]}),  # not more than twice as much
        ([(10, "Q", 0.0), (10, "X", 0.5)], {"stable": ["Q"], "moving": ["X"]}),
        ([(6, "Q", 1.0), (5, "X", 9.0)], {"stable": ["Q"], "moving": ["X"]}),
        ([(6, "Q", 1.0), (4, "X", 9.0)], {"ignored": ["Q", "X"]}),  # of four steps nobody can tell
        ([(5, "Q", 1.0), (9, "X", 9.0)], {"ignored": ["Q", "X"]}),  # the first frame has none before it
        ([(9, "Q", 1.0), (9, "R", 1.5), (9, "X", 9.0), (4, "Y", 9.0)], {
            "stable": ["Q", "R"], "moving": ["X"], "ignored": ["Y"],
        }),
        ([(9, "ST", 9.0), (9, "US", 1.0)], {"stable": ["ST"], "moving": ["US"]}),  # words keep what they mean
        ([(9, "st", 9.0), (9, "X", 1.0)], {"stable": ["X", "st"]}),
        ([(9, "", 1.0), (9, "*", 9.0)], {"stable": [""], "moving": ["*"]}),
        ([(20, "Q", 1.0), (20, "X", 9.0), (1, "?", 9.0)], {"stable": ["Q"], "moving": ["X"]}),  # damage has no meaning
    ],
)  # fmt: skip
def test_a_status_under_which_the_weight_changes_more_is_moving(
    frames: list[tuple[int, str, float]], meanings: dict[str, list[str]]
) -> None:
    assert told(*frames)[0] == meanings


MARKS: dict[str, Callable[[int, Shown, random.Random], str]] = {
    "in turn": lambda at, *_: "xy"[at % 2],
    "by chance": lambda _, __, chance: chance.choice("xy"),
    "now and then": lambda at, *_: "xy"[at % 10 == 3],
    "for a while": lambda at, *_: "xy"[at // 15 % 2],
    "four": lambda at, *_: "jkvx"[at % 4],
}
"""Marks that have nothing to do with whether the weight stands still."""


@pytest.mark.parametrize("mark", MARKS)
def test_a_mark_that_has_nothing_to_do_with_it_is_not_called_moving(mark: str) -> None:
    """On a platform that stands empty half of the time the usual step may be nought under one text by mere chance."""
    for seed, rate_hz in product(range(20), (5, 10, 25)):
        shows = list(crossing(rate_hz, 20, seed))
        chance = random.Random(seed)
        texts = [MARKS[mark](at, shown, chance).encode() for at, shown in enumerate(shows)]
        meanings, _ = tell_apart(texts, [shown.tenths / 10 for shown in shows])
        assert meanings == {"ignored": sorted({text.decode() for text in texts})}, (seed, rate_hz)


@pytest.mark.parametrize("late", [0, 1, 4])
def test_a_mark_of_stability_is_seen_though_it_comes_late(late: int) -> None:
    """Indicators call a weight stable some frames after it is (common practice, no source)."""
    for seed, rate_hz in product(range(20), (5, 10, 25)):
        shows = list(crossing(rate_hz, 20, seed))
        texts = [b"xy"[not all(one.stable for one in shows[max(0, at - late) : at + 1])] for at in range(len(shows))]
        meanings, _ = tell_apart([b"%c" % text for text in texts], [shown.tenths / 10 for shown in shows])
        assert meanings == {"stable": ["x"], "moving": ["y"]}, (seed, rate_hz)


def test_what_is_made_of_a_status_is_told() -> None:
    _, doubts = told((9, "", 1.0), (9, "X", 9.0), (4, "Y", 9.0), (9, "ST", 1.0))
    assert doubts == [
        "A blank seems to mean stable: the weight's steps say so.",
        "'X' seems to mean moving: the weight's steps say so.",
        "What 'Y' means did not show; it is ignored.",
    ]


def test_a_frame_without_a_number_has_no_step_and_neither_has_the_next() -> None:
    texts = [b"Q"] * 20 + [b"X", b"Q"] * 5
    numbers = [0.0] * 20 + [None, 50.0] * 5
    assert tell_apart(texts, numbers)[0] == {"ignored": ["Q", "X"]}
    assert tell_apart(texts, [number or 0.0 for number in numbers])[0] == {"stable": ["Q"], "moving": ["X"]}


@pytest.mark.parametrize(
    ("texts", "unit"),
    [
        (["", "kg"], "kg"),
        (["", " LBS "], "lb"),
        (["kg ", ""], "kg"),
        (["kg ", "lb"], "lb"),  # the one behind the weight
        (["kg lb", ""], "kg"),  # the first
        (["", "xkg lb"], "lb"),  # a word of its own
        (["", " t"], "t"),
        (["", "T"], None),  # a tare
        (["", "G"], None),
        (["t ", ""], None),
        (["", "X t"], None),
        (["", "tx"], None),
        (["X", "Y"], None),
    ],
)
def test_a_unit_is_seen_beside_the_weight(texts: list[str], unit: str | None) -> None:
    sketch = Sketch()
    before, behind = texts
    sketch.pattern = before
    sketch.see_unit(before)
    sketch.pattern += "(?P<value>[0-9.]{5}) *"
    sketch.see_unit(behind)
    draft = sketch.done()
    assert draft.table["unit"] == (unit or "kg")
    assert (NO_UNIT in draft.doubts) is (unit is None)


def test_one_letter_is_a_unit_only_right_behind_the_weight() -> None:
    for pattern, unit in (
        ("(?P<value>[0-9.]{5})", "t"),
        ("(?P<value>[0-9.]{5}) X", None),
        ("(?P<tare>[0-9.]{5})", None),
    ):
        sketch = Sketch(pattern)
        sketch.see_unit("t")
        assert sketch.units == ({True: unit} if unit else {})


def test_statuses_are_numbered_and_written_only_where_there_are_any() -> None:
    sketch = Sketch()
    names = []
    for _ in range(3):
        names.append(sketch.next_group())
        sketch.status(names[-1], [b" ST ", b"US"] * 9, [0.0] * 18)
    assert names == ["status", "status1", "status2"]
    draft = sketch.done(take="net")
    assert draft.table == {
        "pattern": "",
        "unit": "kg",
        "take": "net",
        "tokens": {name: {"stable": ["ST"], "moving": ["US"]} for name in names},
    }
    assert Counter(draft.doubts)[NO_UNIT] == 1
    assert "tokens" not in Sketch().done().table
