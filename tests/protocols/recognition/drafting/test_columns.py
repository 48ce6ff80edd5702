"""Frames of one length compared column by column: patterns written by hand from what each shape's columns hold.

Every pattern must also give back, in each frame, the weight that was shown.
"""

import re

import pytest

from neckyoke.protocols.recognition.drafting.columns import induce_columns, induce_unmarked
from neckyoke.protocols.recognition.drafting.sketch import COMPARE, NO_UNIT, Draft
from tests.protocols.recognition.drafting.frames import Spell, frames_of, shows, word
from tests.protocols.spelling import Shown


def net(shown: Shown) -> str:
    return f"{(shown.tenths - 120) / 10:8.1f}"


def number(shown: Shown) -> str:
    return f"{shown.tenths / 10:8.1f}"


NUMBER = "[-+ 0-9.,]"
STOOD = "{!r} stood still; whatever stands there is not looked at."
PASSED = "{!r} and what else stands there is taken for no weight and passed over."
NONE = NO_UNIT.text
CALM = "{!r} seems to mean stable: the weight's steps say so."
BUSY = "{!r} seems to mean moving: the weight's steps say so."
LESS = "Another number changes too, though less; the 1. number is taken: compare with the display."
ADD = "Three numbers add up as gross, tare and net; gross is taken: compare with the display."


@pytest.mark.parametrize(
    ("spell", "pattern", "said"),
    [
        (lambda _, s: f"{word(s)}{s.sign}{s.padded(7)}kg", f"(?P<status>.{{2}})(?P<value>{NUMBER}{{8}})kg", []),
        (lambda _, s: f"{word(s)} {number(s)} lb", f"(?P<status>.{{2}})(?P<value>{NUMBER}{{9}}) lb", []),
        (lambda _, s: f"={s.sign}{s.padded(7)}", f"=(?P<value>{NUMBER}{{8}})", [NONE]),
        (lambda _, s: f"A  {number(s)} kg", f"A(?P<value>{NUMBER}{{10}}) kg", []),
        (lambda _, s: f"{number(s).replace('.', ',')} kg", f"(?P<value>{NUMBER}{{8}}) kg", []),
        # a sign behind
        (lambda _, s: f"{s.padded(7)}{s.minus or ' '}kg", f"(?P<value>{NUMBER}{{7}})(?P<sign>[-+ ])kg", []),
        (lambda _, s: f"{s.padded(7)}{s.sign} kg", f"(?P<value>{NUMBER}{{7}})(?P<sign>[-+ ]) kg", []),
        (
            lambda at, s: f"{number(s)}kg {12 + at % 3}.0{'-' if at % 2 else ' '}X",
            f"(?P<value>{NUMBER}{{8}})kg.{{5}}(?:[-+ ])X",
            [PASSED.format(" 12.0")],  # its sign is not the weight's
        ),
        # other numbers
        (lambda _, s: f"01;{number(s)}kg", f".{{2}};(?P<value>{NUMBER}{{8}})kg", [STOOD.format("01")]),
        (
            lambda at, s: f"{at % 100:02d} {number(s)}kg",
            f".{{2}}(?P<value>{NUMBER}{{9}})kg",
            [PASSED.format("00")],
        ),
        (
            lambda at, s: f"{number(s)}kg {21 + at // 37 % 5}.{at % 3}C",
            f"(?P<value>{NUMBER}{{8}})kg.{{5}}C",
            [LESS, PASSED.format(" 21.0")],
        ),
        (
            lambda at, s: f"{number(s)}kg {21 + at % 2 / 2}C",
            f"(?P<value>{NUMBER}{{8}})kg.{{5}}C",
            [PASSED.format(" 21.0")],  # two texts, but a fraction is no status
        ),
        (
            lambda at, s: f"{number(s)}kg {21 + at % 2 / 2}C".replace(".", ","),
            f"(?P<value>{NUMBER}{{8}})kg.{{5}}C",
            [PASSED.format(" 21,0")],
        ),
        (
            lambda _, s: f"G{number(s)} T{12.0:8.1f} N{net(s)}kg",
            f"G(?P<gross>{NUMBER}{{8}}) T(?P<tare>{NUMBER}{{8}}) N(?P<net>{NUMBER}{{8}})kg",
            [ADD],
        ),
        (
            lambda _, s: f"{number(s)},{12.0:8.1f},{net(s)}kg",  # commas that part numbers
            f"(?P<gross>{NUMBER}{{8}}),(?P<tare>{NUMBER}{{8}}),(?P<net>{NUMBER}{{8}})kg",
            [ADD],
        ),
        # what stands still, and a status
        (lambda _, s: f"{number(s)} kg *", rf"(?P<value>{NUMBER}{{8}}) kg \*", []),
        (
            lambda _, s: f"{'A' if s.stable else 'B'}{number(s)} kg",
            f"(?P<status>.)(?P<value>{NUMBER}{{8}}) kg",
            [CALM.format("A"), BUSY.format("B")],
        ),
        (
            lambda _, s: f"{number(s)} {0 if s.stable else 1:04X}",
            f"(?P<value>{NUMBER}{{8}})(?P<status>.{{5}})",
            [CALM.format("0000"), BUSY.format("0001"), NONE],
        ),
        (
            lambda at, s: f"{number(s)} kg {chr(65 + at % 25)}",  # too many texts for a status
            f"(?P<value>{NUMBER}{{8}}) kg .",
            [PASSED.format("A")],
        ),
    ],
)  # fmt: skip
def test_columns_are_joined_by_their_nature(spell: Spell, pattern: str, said: list[str]) -> None:
    frames = frames_of(spell)
    draft = induce_columns(frames)
    assert draft is not None
    assert draft.table["pattern"] == pattern
    assert [doubt.text for doubt in draft.doubts] == [COMPARE.text, *said]
    assert weights(draft, frames) == [shown.tenths / 10 for shown in shows()]


def weights(draft: Draft, frames: list[bytes]) -> list[float]:
    """Read every frame by a draft's pattern."""
    found = []
    for frame in frames:
        match = re.fullmatch(draft.table["pattern"].encode(), frame)
        assert match, frame
        groups = match.groupdict()
        text = (groups.get("sign") or b"") + (groups.get("value") or groups.get("gross") or groups["net"])
        found.append(float(text.replace(b" ", b"").replace(b",", b".")))
    return found


def test_a_comma_in_front_of_a_number_is_none_of_it() -> None:
    draft = induce_columns(frames_of(lambda _, s: f"X,{abs(s.tenths) / 10:05.1f};{12 + s.stable},kg"))
    assert draft is not None
    assert draft.table["pattern"] == f"X,(?P<value>{NUMBER}{{5}});(?P<status>.{{2}}),kg"


def test_of_fewer_than_twenty_frames_nobody_can_tell() -> None:
    frames = frames_of(lambda _, s: f"{number(s)} kg")[10:]
    assert induce_columns(frames[:19]) is None
    assert induce_columns(frames[:20]) is not None
    assert induce_columns([]) is None


@pytest.mark.parametrize(("others", "found"), [(40, True), (41, False)])
def test_six_frames_in_ten_must_be_equally_long(others: int, *, found: bool) -> None:
    frames = frames_of(lambda _, s: f"{number(s)} kg")[20:80]
    mixed = [one for at, frame in enumerate(frames) for one in ([frame, b"LOW BATT"] if at < others else [frame])]
    assert (induce_columns(mixed) is not None) is found


@pytest.mark.parametrize(("more", "found"), [(0, True), (1, False)])
def test_frames_longer_than_128_are_no_scales(more: int, *, found: bool) -> None:
    frames = frames_of(lambda _, s: f"{number(s)} kg{'X' * (117 + more)}")
    assert len(frames[0]) == 128 + more
    assert (induce_columns(frames) is not None) is found


@pytest.mark.parametrize("flags", ["01", "1A", "1AFZ"])
def test_a_status_may_touch_the_number(flags: str) -> None:
    frames = frames_of(lambda at, s: f"{number(s)}{flags[at % len(flags)]};kg")
    draft = induce_columns(frames)
    if flags == "01":  # two more digits
        assert draft is not None
        assert draft.table["pattern"] == f"(?P<value>{NUMBER}{{9}});kg"
        return
    assert draft is not None
    assert draft.table["pattern"] == f"(?P<value>{NUMBER}{{8}})(?P<status>.);kg"
    assert weights(draft, frames) == [shown.tenths / 10 for shown in shows()]


def test_damage_in_a_few_frames_changes_nothing() -> None:
    def spell(at: int, shown: Shown) -> str:
        good = f"{word(shown)}{number(shown)} kg"
        place = at % len(good)
        return good[:place] + "#" + good[place + 1 :] if at % 8 == 3 else good

    draft = induce_columns(frames_of(spell))
    assert draft is not None
    assert draft.table == {
        "pattern": f"(?P<status>.{{2}})(?P<value>{NUMBER}{{8}}) kg",
        "unit": "kg",
        "tokens": {"status": {"stable": ["ST"], "moving": ["US"]}},
    }


@pytest.mark.parametrize(
    "spell",
    [
        lambda at, s: f"{at % 9},{s.tenths / 10:7.1f},{12 + at % 2}.0,kg",  # a comma between digits is a decimal one
        lambda _, s: f"A;{s.number}kg".ljust(10),  # where the number ends, another time the unit stands
        lambda _, s: f"A;{abs(s.tenths) // 10}kg".ljust(9),
        lambda _, s: f"W{s.number} kg".rjust(10),
        lambda _, s: f"W{abs(s.tenths) // 10};kg".rjust(9),
    ],
)
def test_columns_that_hide_or_cut_a_number_are_parted_wrongly_and_nothing_is_drafted(spell: Spell) -> None:
    assert induce_columns(frames_of(spell)) is None


@pytest.mark.parametrize("mark", ["=", "w", "!", "~"])
def test_frames_without_an_end_are_found_by_what_begins_each(mark: str) -> None:
    frames = frames_of(lambda _, s: f"{mark}{s.sign}{s.padded(7)}")
    draft = induce_unmarked(b"12.5" + b"".join(frames) + frames[0][:4])
    assert draft is not None
    assert draft.table == {
        "pattern": f"{re.escape(mark)}(?P<value>{NUMBER}{{8}})",
        "unit": "kg",
        "framing": "fixed:9",
    }
    assert weights(draft, frames) == [shown.tenths / 10 for shown in shows()]


def test_a_character_that_comes_oftener_than_the_frames_begins_none() -> None:
    frames = frames_of(lambda _, s: f"=kkww{number(s)}kg")
    draft = induce_unmarked(b"".join(frames))
    assert draft is not None
    assert draft.table["pattern"] == f"=kkww(?P<value>{NUMBER}{{8}})kg"


@pytest.mark.parametrize(
    "sample",
    [
        b"",
        b"\x00" * 400,
        b"".join(frames_of(lambda _, s: f"{s.padded(7)}")),  # nothing that begins one
        b"".join(frames_of(lambda at, s: f"={number(s)}{chr(48) * (at % 3)}")),  # of three lengths
        b"".join(frames_of(lambda _, s: f"={number(s)}\r\n")),  # these end
        b"".join(frames_of(lambda _, s: f"={number(s)}\x03")),
        b"".join(frames_of(lambda _, s: f"=\x02{number(s)}")),
        b"".join(frames_of(lambda _, s: f"=kkwwzz{number(s)}")),  # three others come oftener
        b"".join(frames_of(lambda _, __: "=0012.0")),  # nothing moves
    ],
)
def test_of_other_streams_nothing_is_drafted(sample: bytes) -> None:
    assert induce_unmarked(sample) is None
