"""Weight frames spelt, one line an example."""

from dataclasses import replace
from functools import reduce
from operator import xor

import pytest

from neckyoke.simulators.crush.indicator import Shown
from neckyoke.simulators.spelling.frames import SHAPES, Style, words

STILL = Shown(0.0, 318.5, stable=True, overload=False)
MOVING = STILL._replace(stable=False)
NOTHING = STILL._replace(kg=0.0)
BELOW = STILL._replace(kg=-2.5)
OVER = Shown(0.0, None, stable=False, overload=True)
BLANK = Shown(0.0, None, stable=False, overload=False)

# `letter` and `letters`: Sensors 10 (2010), Table 1.  The other shapes are general conventions, no source to cite.
EXAMPLES = [
    ("words", STILL, b"ST,GS,+00318.5kg\r\n"),
    ("words", MOVING, b"US,GS,+00318.5kg\r\n"),
    ("words", BELOW, b"ST,GS,-00002.5kg\r\n"),
    ("words", OVER, b"OL,GS,+-------kg\r\n"),
    ("letter", STILL, b"\x02   318.5G\x03"),
    ("letter", MOVING, b"\x02   318.5M\x03"),
    ("letter", BELOW, b"\x02-    2.5G\x03"),
    ("letters", STILL, b"\x02   318.5G  - kg\x03"),
    ("letters", MOVING, b"\x02   318.5GM -   \x03"),
    ("letters", NOTHING, b"\x02     0.0G Z- kg\x03"),
    ("letters", OVER, b"\x02 -------OM -   \x03"),
    ("mark", STILL, b"     318.5 kg  \r\n"),
    ("mark", MOVING, b"     318.5 kg ?\r\n"),
    ("nibbles", STILL, b"   318.5 0000\r\n"),
    ("nibbles", MOVING, b"   318.5 0001\r\n"),
    ("nibbles", OVER, b" ------- 0011\r\n"),
    ("lines", STILL, b"318.5\r\n"),
    ("lines", BELOW, b"-2.5\r\n"),
    ("lines", OVER, b"OL\r\n"),
    ("lines", BLANK, b"       \r\n"),
    ("united", STILL, b"318.5 kg\r\n"),
]


@pytest.mark.parametrize(("shape", "shown", "frame"), EXAMPLES)
def test_a_frame(shape: str, shown: Shown, frame: bytes) -> None:
    assert SHAPES[shape](shown, Style()) == frame


@pytest.mark.parametrize(
    ("style", "frame"),
    [
        (Style(unit="lb"), b"ST,GS,+00702.2lb\r\n"),  # 318.5 kg at 0.45359237 kg a pound, exact by definition
        (Style(comma=True), b"ST,GS,+00318,5kg\r\n"),
        (Style(implied=True), b"ST,GS,+0003185kg\r\n"),
        (Style(decimals=0), b"ST,GS,+0000318kg\r\n"),
        (Style(unit="t", decimals=4), b"ST,GS,+00.3185t\r\n"),
        (Style(unit="g", decimals=0), b"ST,GS,+0318500g\r\n"),
        (Style(end=b"\r"), b"ST,GS,+00318.5kg\r"),
    ],
)
def test_what_varies_within_a_shape(style: Style, frame: bytes) -> None:
    assert words(STILL, style) == frame


def test_checks_are_over_all_bytes_before_them() -> None:
    body = b"ST,GS,+00318.5kg"
    assert words(STILL, Style(check="xor")) == body + f"{reduce(xor, body):02X}".encode() + b"\r\n"
    assert words(STILL, Style(check="sum")) == body + f"{sum(body) % 256:02X}".encode() + b"\r\n"


@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_a_display_has_no_negative_zero(shape: str) -> None:
    style = replace(Style(), decimals=0)
    assert SHAPES[shape](STILL._replace(kg=-0.4), style) == SHAPES[shape](NOTHING, style)
