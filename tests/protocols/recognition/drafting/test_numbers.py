"""Frames cut at their numbers: patterns written by hand from the words and numbers of each shape.

Every pattern must also give back, in each frame, the weight that was shown.
"""

import re
from typing import Any

import pytest

from neckyoke.protocols.recognition.drafting.numbers import induce_numbers, parts_thousands
from neckyoke.protocols.recognition.drafting.sketch import COMPARE, NO_UNIT
from tests.protocols.recognition.drafting.frames import Spell, frames_of, shows, word
from tests.protocols.spelling import Shown


def kg(shown: Shown, less: int = 0) -> str:
    return f"{(shown.tenths - less) / 10:.1f}"


SIGN = "(?:(?<![-+])[-+])?"
ANY = f"{SIGN} *[0-9.,]+"
"""A number where a comma may be a decimal one."""
LISTED = f"{SIGN} *[0-9.]+"
"""One where commas part numbers."""
STABLE_OR_NOT = {"status": {"stable": ["ST"], "moving": ["US"]}}
STOOD = "{!r} stood still; whatever stands there is not looked at."
PASSED = "{!r} and what else stands there is taken for no weight and passed over."
CALM = "{!r} seems to mean stable: the weight's steps say so."
BUSY = "{!r} seems to mean moving: the weight's steps say so."
BLANK = "A blank seems to mean {}: the weight's steps say so."
WORDS = "Several weights come in a frame, told apart by their words; {} is taken: compare with the display."
ADD = "Three numbers add up as gross, tare and net; gross is taken: compare with the display."


@pytest.mark.parametrize(
    ("spell", "pattern", "tokens", "said"),
    [
        (lambda _, s: f"{kg(s)} kg", f" *(?P<value>{ANY}) *kg *", {}, []),
        (lambda _, s: f"{kg(s)}", f" *(?P<value>{ANY}) *", {}, [NO_UNIT.text]),
        (lambda _, s: f"{kg(s).replace('.', ',')} kg", f" *(?P<value>{ANY}) *kg *", {}, []),
        (lambda _, s: f"X:W={kg(s)}kg;", f" *X *: *W *= *(?P<value>{ANY}) *kg *; *", {}, []),
        (
            lambda _, s: f"{word(s)} {kg(s)} kg",
            f" *(?P<status>[A-Za-z]+) *(?P<value>{ANY}) *kg *",
            STABLE_OR_NOT,
            [],
        ),
        (
            lambda _, s: f"{kg(s)} kg{'' if s.stable else '*'}",  # there or not
            f" *(?P<value>{ANY}) *kg *(?P<status>[^0-9]*?) *",
            {"status": {"stable": [""], "moving": ["*"]}},
            [BLANK.format("stable"), BUSY.format("*")],
        ),
        (
            lambda _, s: f"{kg(s)} kg {'!' if s.stable else '*'}",  # no letters
            f" *(?P<value>{ANY}) *kg *(?P<status>[^0-9 ]+?) *",
            {"status": {"stable": ["!"], "moving": ["*"]}},
            [CALM.format("!"), BUSY.format("*")],
        ),
        (
            lambda at, s: f"{word(s)} Q {'GS' if at % 2 else 'NT'} {kg(s)} kg",  # two, and a word between them
            f" *(?P<status>[A-Za-z]+) *Q *(?P<status1>[A-Za-z]+) *(?P<value>{ANY}) *kg *",
            {**STABLE_OR_NOT, "status1": {"gross": ["GS"], "net": ["NT"]}},
            [],
        ),
        (
            lambda _, s: f"A {'B ' if s.stable else ''}C {kg(s)} kg",  # common before and behind
            f" *A *(?P<status>[^0-9]*?) *C *(?P<value>{ANY}) *kg *",
            {"status": {"stable": ["B"], "moving": [""]}},
            [BLANK.format("moving"), CALM.format("B")],
        ),
        (
            lambda _, s: f"A {'A ' if s.stable else ''}{kg(s)} kg",  # the same word once or twice
            f" *A *(?P<status>[^0-9]*?) *(?P<value>{ANY}) *kg *",
            {"status": {"stable": ["A"], "moving": [""]}},
            [BLANK.format("moving"), CALM.format("A")],
        ),
        (
            lambda _, s: f"A {word(s)} C {kg(s)} kg",
            f" *A *(?P<status>[A-Za-z]+) *C *(?P<value>{ANY}) *kg *",
            STABLE_OR_NOT,
            [],
        ),
        # a sign behind
        (lambda _, s: f"{s.number}{s.minus} kg", f" *(?P<value>{ANY}) *(?P<sign>-?) *kg *", {}, []),
        (lambda _, s: f"X {s.number}{s.minus}", f" *X *(?P<value>{ANY}) *(?P<sign>-?) *", {}, [NO_UNIT.text]),
        (lambda _, s: f"{s.number}-kg", rf" *(?P<value>{ANY}) *\- *kg *", {}, []),  # always there: a hyphen
        (lambda _, s: f"W -- {s.number} kg", rf" *W *\- *\- *(?P<value>{ANY}) *kg *", {}, []),  # two are no sign
        # other numbers
        (lambda _, s: f"01 {kg(s)} kg", f" *{ANY} +(?P<value>{ANY}) *kg *", {}, [STOOD.format("01")]),
        (lambda at, s: f"{at:05d} {kg(s)} kg", f" *{ANY} +(?P<value>{ANY}) *kg *", {}, [PASSED.format("00000")]),
        (
            lambda _, s: f"1;{kg(s)};kg;{int(s.stable)}",
            f" *{ANY} *; *(?P<value>{ANY}) *; *kg *; *(?P<status>[0-9]+) *",
            {"status": {"moving": ["0"], "stable": ["1"]}},
            [STOOD.format("1"), BUSY.format("0"), CALM.format("1")],
        ),
        (
            lambda at, s: f"{kg(s)} kg {21 + at % 2 / 2} C",  # a fraction is no status
            f" *(?P<value>{ANY}) *kg *{ANY} *C *",
            {},
            [PASSED.format("21.0")],
        ),
        (
            lambda at, s: f"+{12 + at % 2}{s.sign}{s.number} kg",  # their signs part them
            f" *{ANY} *(?P<value>{ANY}) *kg *",
            {},
            [PASSED.format("+12")],
        ),
        (
            lambda at, s: f"{at % 9},{kg(s)},{12 + at % 2}.0,kg",
            f" *{LISTED} *, *(?P<value>{LISTED}) *, *{LISTED} *, *kg *",
            {},
            [PASSED.format("0"), PASSED.format("12.0")],
        ),
        # several weights
        (
            lambda _, s: f"{kg(s)} {12.0} {kg(s, 120)} kg",
            f" *(?P<gross>{ANY}) +(?P<tare>{ANY}) +(?P<net>{ANY}) *kg *",
            {},
            [ADD],
        ),
        (
            lambda _, s: f"Gross {kg(s)} Net {kg(s, 120)} kg",
            f" *Gross *(?P<gross>{ANY}) *Net *(?P<net>{ANY}) *kg *",
            {},
            [WORDS.format("gross")],
        ),
    ],
)
def test_words_and_numbers_are_told_apart(spell: Spell, pattern: str, tokens: dict[str, Any], said: list[str]) -> None:
    frames = frames_of(spell)
    draft = induce_numbers(frames)
    assert draft is not None
    assert draft.table["pattern"] == pattern
    assert draft.table.get("tokens", {}) == tokens
    assert [doubt.text for doubt in draft.doubts] == [COMPARE.text, *said]
    assert "take" not in draft.table
    dashed = b"--" in frames[0] or b"-kg" in frames[0]  # such a dash is no minus
    assert weights(pattern, frames) == [(abs(show.tenths) if dashed else show.tenths) / 10 for show in shows()]


@pytest.mark.parametrize(
    "spell",
    [
        lambda _, s: f"01 {kg(s)} {word(s)} kg",  # only blanks part the numbers
        lambda at, s: f"{at % 10} {kg(s)} {'!' if s.stable else '*'} t",  # no letters; one letter of a unit behind
        lambda _, s: f"X {s.number} {s.minus} kg",  # a sign behind
        lambda _, s: f"G {kg(s)} N {kg(s, 120)} kg",
    ],
)
@pytest.mark.parametrize("mixed", [False, True])
def test_tabs_part_words_and_numbers_as_blanks_do(spell: Spell, *, mixed: bool) -> None:
    blank = induce_numbers(frames_of(spell))
    tabbed = [frame.replace(b" ", b" \t" if mixed else b"\t") for frame in frames_of(spell)]
    tab = induce_numbers(tabbed)
    assert blank is not None
    assert tab is not None
    between = re.sub(r"(?<!\?) (?=\*(?!\[)|\+)", r"[ \\t]", blank.table["pattern"])
    assert tab.table == {**blank.table, "pattern": between.replace("[^0-9 ]", r"[^0-9 \t]")}
    assert tab.doubts == blank.doubts
    assert weights(tab.table["pattern"], tabbed) == weights(blank.table["pattern"], frames_of(spell))


def weights(pattern: str, frames: list[bytes]) -> list[float]:
    """Read every frame by a pattern."""
    found = []
    for frame in frames:
        match = re.fullmatch(pattern.encode(), frame)
        assert match, frame
        groups = match.groupdict()
        text = (groups.get("sign") or b"") + (groups.get("value") or groups.get("gross") or groups["net"])
        found.append(float(text.replace(b" ", b"").replace(b",", b".")))
    return found


def test_of_net_and_tare_the_net_weight_is_taken() -> None:
    frames = frames_of(lambda at, s: f"N {kg(s, 120)} T {12 + at // 20 % 5} kg")
    draft = induce_numbers(frames)
    assert draft is not None
    assert draft.table == {
        "pattern": f" *N *(?P<net>{ANY}) *T *(?P<tare>{ANY}) *kg *",
        "unit": "kg",
        "take": "net",
    }
    assert weights(draft.table["pattern"], frames) == [(show.tenths - 120) / 10 for show in shows()]


@pytest.mark.parametrize(
    ("frames", "so"),
    [
        ([b"980 kg", b"1,020 kg", b"12,345.5 kg"], True),
        ([b"980 kg", b"990 kg"], False),
        ([b"1,020 kg", b"1,030 kg"], False),  # where all have one it may be a decimal comma
        ([b"9,80 kg", b"1,020 kg", b"5 kg"], False),
        ([b"0,980 kg", b"1,020 kg", b"5 kg"], False),
        ([b"1,0200 kg", b"5 kg"], False),
        ([b"1,020,5 kg", b"5 kg"], False),
        ([b"1,020 kg"] * 96 + [b"990 kg"] * 4, True),
        ([b"1,020 kg"] * 97 + [b"990 kg"] * 3, False),
        ([b"1,020 kg"] * 86 + [b"1,02 kg"] * 14 + [b"990 kg"] * 9, True),  # a few are damaged
        ([b"1,020 kg"] * 85 + [b"1,02 kg"] * 15 + [b"990 kg"] * 9, False),
        ([], False),
    ],
)
def test_commas_part_thousands_where_smaller_numbers_go_without(frames: list[bytes], *, so: bool) -> None:
    assert parts_thousands(frames) is so


def test_thousands_are_one_number() -> None:
    frames = frames_of(lambda _, s: f"W {abs(s.tenths):,} lb")
    draft = induce_numbers(frames)
    assert draft is not None
    assert draft.table == {"pattern": f" *W *(?P<value>{ANY}) *lb *", "unit": "lb"}


def test_of_fewer_than_twenty_frames_nobody_can_tell() -> None:
    frames = frames_of(lambda _, s: f"{kg(s)} kg")[10:]
    assert induce_numbers(frames[:19]) is None
    assert induce_numbers(frames[:20]) is not None
    assert induce_numbers([]) is None


@pytest.mark.parametrize(("numbers", "found"), [(0, False), (1, True), (12, True), (13, False)])
def test_a_frame_has_one_to_twelve_numbers(numbers: int, *, found: bool) -> None:
    frames = frames_of(lambda _, s: " ".join(["W", *[kg(s)] * (numbers > 0), *["7"] * (numbers - 1), "kg"]))
    assert (induce_numbers(frames) is not None) is found


@pytest.mark.parametrize(("odd", "found"), [(130, True), (131, False)])
def test_a_good_third_of_the_frames_must_be_left(odd: int, *, found: bool) -> None:
    """Of 200 frames 70 are the least share, 35 in 100; the others have a word that comes once."""
    frames = frames_of(lambda at, s: f"{kg(s)} kg{f' X{chr(65 + at // 26)}{chr(65 + at % 26)}' if at < odd else ''}")
    assert (induce_numbers(frames) is not None) is found


@pytest.mark.parametrize(("feeds", "found"), [(30, True), (31, False)])
def test_what_does_not_read_its_own_frames_is_no_draft(feeds: int, *, found: bool) -> None:
    """Blanks are allowed between words and numbers, a form feed is not: it must read 85 in 100."""
    frames = frames_of(lambda at, s: f"{kg(s)}{chr(12) if at < feeds else ' '}kg")
    assert (induce_numbers(frames) is not None) is found


def test_odd_frames_are_put_aside() -> None:
    """What comes rarely, has two words less or more than most, or no unit where most have one."""

    def spell(at: int, shown: Shown) -> str:
        if at % 10 == 3:
            return f"{kg(shown)} kgm" if at % 20 == 3 else f"{kg(shown)} kg Z Z Z"
        return f"{word(shown)} {kg(shown)} kg" if at % 10 != 7 else f"LOW {at % 3} {at % 7}"

    draft = induce_numbers(frames_of(spell))
    assert draft is not None
    assert draft.table["pattern"] == f" *(?P<status>[A-Za-z]+) *(?P<value>{ANY}) *kg *"


def test_a_word_that_is_not_always_the_same_names_no_weight() -> None:
    draft = induce_numbers(frames_of(lambda at, s: f"{'G' if at % 2 else 'N'} {kg(s)} T {kg(s, 120)} kg"))
    assert draft is not None
    assert "(?P<value>" in draft.table["pattern"]


def test_numbers_of_which_none_is_a_weight_are_not_drafted() -> None:
    assert induce_numbers(frames_of(lambda _, s: f"{s.tenths} {6000 - 2 * s.tenths}")) is None
    assert induce_numbers(frames_of(lambda at, _: f"{at} kg")) is None
