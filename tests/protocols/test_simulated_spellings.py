"""What the simulators send, spelled by another hand than the decoders and their tests, is read as it was meant."""

from itertools import product

import pytest

from neckyoke.protocols.decoder import Decoder, scale_decoder, tag_decoder
from neckyoke.protocols.readings import KG_PER, Condition, TagRead, WeightReading
from neckyoke.protocols.scale.builtin import layout_from_table
from neckyoke.protocols.tagcode import TagCode
from neckyoke.simulators.crush.indicator import Shown
from neckyoke.simulators.spelling.frames import SHAPES, Style
from neckyoke.simulators.spelling.tags import SPELLINGS, Tag

NIBBLES = layout_from_table(
    "own",
    {
        "pattern": "(?P<sign>[- ])(?P<value>[ 0-9.,]{7}|-{7}) 00(?P<status>[01]{2})",
        "unit": "kg",
        "tokens": {"status": {"stable": ["00"], "moving": ["01"], "overload": ["10", "11"]}},
    },
)
READERS = {
    "words": ("auto", "status-mode-weight"),
    "letter": ("auto", "sign-weight-status"),
    "letters": ("auto", "sign-weight-flags"),
    "mark": ("auto", "weight-unit-mark"),
    "nibbles": ("own",),
    "lines": ("auto", "weight"),
    "united": ("auto", "weight-unit"),
}
WEIGHTS = (0.0, 0.5, -12.5, 412.5, 1999.0)


@pytest.mark.parametrize(("shape", "layout"), [(shape, name) for shape, names in READERS.items() for name in names])
def test_simulated_indicators_are_read(shape: str, layout: str) -> None:
    units = ("kg",) if shape in {"letter", "nibbles", "lines"} else ("kg", "lb")
    for unit, comma, kg, stable in product(units, (False, True), WEIGHTS, (True, False)):
        style = Style(unit=unit, comma=comma)
        decoder: Decoder = scale_decoder(layout, None, {"own": NIBBLES})
        decoder.feed(SHAPES[shape](Shown(0.0, 0.0, stable=True, overload=False), style))  # names the unit
        (reading,) = decoder.feed(SHAPES[shape](Shown(0.0, kg, stable=stable, overload=False), style))
        assert isinstance(reading, WeightReading), (style, kg, reading)
        assert reading.kg == pytest.approx(kg, abs=0.051 * KG_PER[unit])
        assert reading.unit == unit
        assert reading.stable in {stable, None}


@pytest.mark.parametrize(("shape", "layout"), [("words", "auto"), ("letter", "sign-weight-status"), ("nibbles", "own")])
def test_simulated_overloads_are_read(shape: str, layout: str) -> None:
    decoder = scale_decoder(layout, None, {"own": NIBBLES})
    (reading,) = decoder.feed(SHAPES[shape](Shown(0.0, None, stable=False, overload=True), Style()))
    assert isinstance(reading, WeightReading)
    assert (reading.kg, reading.condition) == (None, Condition.OVERLOAD)


@pytest.mark.parametrize("name", sorted(SPELLINGS))
def test_simulated_readers_are_read(name: str) -> None:
    decoder = tag_decoder(hex_order="air" if name == "hex-air" else "value")
    for number in (1, 112233, 2**38 - 1):
        tag = Tag(number)
        (read,) = decoder.feed(SPELLINGS[name](tag))
        assert isinstance(read, TagRead)
        assert str(read.code) == str(tag)
        assert read.code == TagCode.from_value(tag.value)
