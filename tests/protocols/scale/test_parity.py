"""Seven bits and parity, seen through eight: every byte, against parity counted bit by bit."""

import pytest

from neckyoke.protocols.scale.layout import Parity
from neckyoke.protocols.scale.parity import BAD, strip_table


def sent(seven: int, parity: Parity) -> int:
    """Spell a byte as the line has it, with the parity bit behind its seven."""
    bits = f"{seven:07b}"
    highest = {"even": bits.count("1") % 2, "odd": 1 - bits.count("1") % 2, "mark": 1, "space": 0}[parity]
    return int(f"{highest}{bits}", 2)


@pytest.mark.parametrize("parity", ["even", "odd", "mark", "space"])
def test_every_byte_loses_its_parity_and_one_with_the_other_is_bad(parity: Parity) -> None:
    table = strip_table(parity)
    for seven in range(128):
        byte = sent(seven, parity)
        assert bytes([byte, byte ^ 0x80]).translate(table) == bytes([seven]) + BAD, seven
