"""Frames read many at once: that they are, and that only patterns which cannot tell the difference are matched so."""

import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.protocols.decoder import Decoder, scale_decoder, tag_decoder
from neckyoke.protocols.readings import Outcome, Reject, WeightReading
from neckyoke.protocols.scale.builtin import BUILT_IN, layout_from_table
from neckyoke.protocols.wholesale import at_once, one_by_one, stays_in_line
from tests.protocols.spelling import SCALES, TAGS_SHORT, TAGS_WHOLE, Code, Shown


def without_careful_path(decoder: Decoder) -> Decoder:
    def refuse(frame: bytes, _unit: str | None) -> Outcome:
        raise AssertionError(frame)

    decoder._read = refuse
    return decoder


@pytest.mark.parametrize("unit", ["kg", "lb"])
@pytest.mark.parametrize("name", ["auto", *BUILT_IN])
def test_plain_frames_of_every_layout_are_read_at_once(name: str, unit: str) -> None:
    spell = SCALES.get(name, SCALES["status-mode-weight"])
    shows = [Shown(tenths, stable=tenths % 3 > 0, unit=unit) for tenths in range(-50, 400)]
    decoder = scale_decoder(name)
    decoder.feed(spell(Shown(0, unit=unit)))  # a unit to be in force
    outcomes = without_careful_path(decoder).feed(b"".join(map(spell, shows)))
    assert [outcome.value for outcome in outcomes if isinstance(outcome, WeightReading)] == [
        outcome.value for show in shows for outcome in scale_decoder(name).feed(spell(Shown(show.tenths)))
        if isinstance(outcome, WeightReading)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("keys", "frame", "kg"),
    [
        ({"decimals": 1}, b"004125 kg\r\n", 412.5),
        ({"decimals": 3, "unit": "g"}, b"412500\r\n", 0.4125),
        ({"backwards": True}, b"5.21400 kg\r\n", 412.5),
        ({"parity": "even"}, bytes(byte | (byte.bit_count() % 2) << 7 for byte in b"412,5 kg\r\n"), 412.5),
    ],
)
def test_plain_frames_of_the_users_own_layouts_are_read_at_once(
    keys: dict[str, object], frame: bytes, kg: float
) -> None:
    table = {"pattern": " *(?P<value>[0-9.,]+)(?: (?P<unit>kg))?", **keys}
    if "unit" in keys:
        table["pattern"] = "(?P<value>[0-9]+)"
    decoder = scale_decoder("own", None, {"own": layout_from_table("own", table)})
    outcomes = without_careful_path(decoder).feed(frame * 20)
    assert [outcome.kg for outcome in outcomes if isinstance(outcome, WeightReading)] == [kg] * 20


@pytest.mark.parametrize("name", ["fifteen", "three-twelve", "hex-value", "fields-spaced"])
def test_plain_tags_are_read_at_once(name: str) -> None:
    stream = b"".join((TAGS_SHORT | TAGS_WHOLE)[name](Code(999, 10**9 + number)) for number in range(100))
    assert len(without_careful_path(tag_decoder()).feed(stream)) == 100


OPTIONAL_UNIT = {"pattern": "(?P<value>[0-9.]+)(?: (?P<unit>[a-z]*))?", "unit": "kg", "blank_unit": "moving"}
STATUS_BYTE = {"pattern": "(?P<value>[0-9.]+)(?P<flags>.)", "bits": {"flags": {"moving": 7}}, "parity": "space"}


@pytest.mark.parametrize(
    ("table", "frame", "expected"),
    [
        (None, b"60000.0 kg", "out-of-range"),
        (None, b"-60000.0 kg", "out-of-range"),
        (None, b"0000000412.5 kg", "out-of-range"),
        (None, b"412,500 kg", "two-numbers"),
        ({"like": "weight-unit"}, b"412,500 kg", "two-numbers"),
        (OPTIONAL_UNIT, b"412.5", None),
        (OPTIONAL_UNIT, b"412.5 ", False),
        (STATUS_BYTE, b"412.5\x80", "bad-parity"),
    ],
)
def test_what_is_not_plain_is_left_to_the_careful_path(table: Any, frame: bytes, expected: object) -> None:
    layouts = {"own": layout_from_table("own", table)} if table else {}
    decoder = scale_decoder("own" if table else "auto", None, layouts)
    for outcome in decoder.feed(20 * (frame + b"\r\n")):
        assert (outcome.reason if isinstance(outcome, Reject) else getattr(outcome, "stable", None)) == expected


@pytest.mark.parametrize("frame", [b"-0.0 kg\r\n", b"ST,GS,-00000.0kg\r\n", b"-0 g\r\n"])
def test_no_weight_is_minus_zero(frame: bytes) -> None:
    readings = without_careful_path(scale_decoder()).feed(20 * frame)
    assert [str(reading.kg) for reading in readings if isinstance(reading, WeightReading)] == ["0.0"] * 20


def test_what_words_mean_is_remembered_within_bounds() -> None:
    table = {"pattern": "(?P<flags>....)(?P<value>[0-9]+)", "bits": {"flags": {"moving": 0}}}
    decoder = scale_decoder("own", None, {"own": layout_from_table("own", table)})
    outcomes = without_careful_path(decoder).feed(b"".join(b"%04d7\r\n" % number for number in range(3000)))
    assert [getattr(outcome, "stable", None) for outcome in outcomes] == [number % 2 == 0 for number in range(3000)]
    assert len(decoder._read_run.__self__._wholesale._memory) <= 512  # type: ignore[attr-defined]


def test_built_in_layouts_stay_in_their_line_but_for_the_print() -> None:
    assert {name for name, layout in BUILT_IN.items() if not stays_in_line(layout.pattern)} == {"print-block"}


@pytest.mark.parametrize(
    "pattern",
    [rb"a$", rb"^a", rb"a\b", rb"\Aa", rb"a(?=b)", rb"a(?!b)", rb"(?<=a)b", rb"[^a]", rb"\s", rb"\D", rb"\W", rb"\n",
     rb"\x0a", rb"\012", b"\n", b"[\t-\r]", rb"(?s:.)", rb"(?s).", rb"(?m:a)", rb"(a)\1", rb"(?x)a#"],
)  # fmt: skip
def test_patterns_that_may_look_beyond_their_line_are_told(pattern: bytes) -> None:
    assert not stays_in_line(re.compile(pattern))


PARTS = ["a", "b?", "[ab]*", ".", ".*?", r"\S+", r"\d", "(a|ab)", "(?P<x>b*)", "(?i:A+)", "(?:a|b)??", r"\.", "[ -~]*+"]


@given(
    parts=st.lists(st.sampled_from(PARTS), min_size=1, max_size=5, unique=True),
    frames=st.lists(st.text("ab.1\n\r", max_size=6).map(str.encode), min_size=1, max_size=4),
)
@settings(max_examples=300, deadline=None)
def test_frames_found_at_once_have_the_groups_they_have_each_for_itself(parts: list[str], frames: list[bytes]) -> None:
    pattern = re.compile("".join(["(?P<value>1?)", *parts]).encode())
    assert stays_in_line(pattern)
    at_once_found = at_once(pattern.pattern)(frames)
    if at_once_found is not None or not any(b"\n" in frame for frame in frames):
        assert at_once_found == one_by_one(pattern)(frames)
