"""Shapes made up at random, of the pieces that indicators' shapes are made of (common practice, no source).

What is called sure or likely must read the weights that were shown, wherever the shape came from.  Of a shape that says
one thing twice, or two things of one kind, any answer may be unsure.
"""

import random
import tomllib
from collections import Counter
from collections.abc import Callable
from itertools import count

import pytest

from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import KG_PER, WeightReading
from neckyoke.protocols.recognise import Finding, Sure, recognise
from neckyoke.protocols.scale.builtin import layout_from_table
from tests.protocols.spelling import Shown
from tests.protocols.streams import crossing, damaged

WORDS = [
    ("ST", "US"),
    ("S", "D"),
    ("", "M"),
    ("OK", "--"),
    ("0", "1"),
    ("A", "B"),
    ("still", "moves"),
    (" ", "*"),
    None,
]
EXTRA: dict[str, Callable[[int, Shown], str]] = {
    "temperature": lambda at, _: f"{21 + at // 37 % 5}.{at % 3}C",
    "tare": lambda *_: "T 12.0",
    "net": lambda _, s: f"N {(s.tenths - 120) / 10:.1f}",
    "running": lambda at, _: f"{at}",
    "clock": lambda at, _: f"12:{at // 600:02d}:{at // 10 % 60:02d}",
    "nothing": lambda *_: "",
    "nothing more": lambda *_: "",
}


def make_up(choose: random.Random) -> tuple[Callable[[int, Shown], bytes], str]:
    """Make a shape up, and say its unit."""
    width, fill, point = choose.choice([0, 6, 7, 9]), choose.choice(" 0"), choose.choice("...,")
    signed = choose.choice(["minus", "plus", "apart", "behind"])
    words, in_front = choose.choice(WORDS), choose.random() < 0.5
    before, unit = choose.choice(["", "", "W=", "=", "01 ", "wt ", "{", "#"]), choose.choice(["kg", " kg", "KG", "lb"])
    gap, check = choose.choice([" ", ";", " , ", "/"]), choose.random() < 0.2
    extra, stx = choose.choice(sorted(EXTRA)), choose.random() < 0.2

    def spell(at: int, shown: Shown) -> bytes:
        number = shown.number.replace(".", point).rjust(width, fill)
        weight = {
            "minus": shown.minus + number if fill == "0" else (shown.minus + number.lstrip()).rjust(width),
            "plus": shown.sign + number,
            "apart": (shown.minus or " ") + number,
            "behind": number + (shown.minus or " "),
        }[signed]
        word = [words[0] if shown.stable else words[1]] if words else []
        parts = [
            *word * in_front,
            before + weight + unit,
            *filter(None, [EXTRA[extra](at, shown)]),
            *word * (not in_front),
        ]
        body = gap.join(parts).encode()
        body += b"%02X" % (sum(body) % 256) if check else b""
        return b"\x02" + body + b"\x03" if stx else body + b"\r\n"

    return spell, unit.strip().lower()


def read(finding: Finding, data: bytes) -> list[WeightReading]:
    """Read bytes by what is printed to be pasted."""
    table = tomllib.loads(finding.toml("scale", "tcp://127.0.0.1:4001"))
    own = {name: layout_from_table(name, layout) for name, layout in table.get("layouts", {}).items()}
    outcomes = scale_decoder(table["links"]["scale"]["layout"], None, own).feed(data)
    return [outcome for outcome in outcomes if isinstance(outcome, WeightReading)]


@pytest.mark.parametrize("block", range(4))
def test_what_is_called_likely_reads_what_was_shown(block: int) -> None:
    answered = 0
    for seed in range(block * 20, block * 20 + 20):
        choose = random.Random(seed)
        spell, unit = make_up(choose)
        shows = list(crossing(10, 25, seed))
        data = b"".join(map(spell, count(), shows))
        finding = recognise(damaged(data, choose.choice([0.0, 0.0, 0.005, 0.02]), seed))
        if finding.sure is Sure.UNSURE:
            continue
        answered += 1
        shown = Counter(round(show.tenths / 10 * KG_PER[unit], 3) for show in shows)
        weights = Counter(round(reading.kg, 3) for reading in read(finding, data) if reading.kg is not None)
        assert not weights - shown, (seed, finding)
        assert weights.total() >= 0.5 * len(shows), (seed, finding)
    assert answered >= 12
