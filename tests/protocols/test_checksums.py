"""Checksums against the catalogue's check values and two independent libraries."""

from typing import Any

import anycrc
import crccheck.crc
import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.protocols.checksums import CHECKS

CATALOGUE = [  # name, check on "123456789" (public catalogue of CRCs), and the name in either library
    ("crc16-kermit", 0x2189, "CRC16-KERMIT", crccheck.crc.CrcKermit),
    ("crc16-xmodem", 0x31C3, "CRC16-XMODEM", crccheck.crc.CrcXmodem),
    ("crc16-ibm-sdlc", 0x906E, "CRC16-IBM-SDLC", crccheck.crc.CrcX25),
    ("crc16-ibm-3740", 0x29B1, "CRC16-IBM-3740", crccheck.crc.Crc16CcittFalse),
    ("crc16-modbus", 0x4B37, "CRC16-MODBUS", crccheck.crc.CrcModbus),
    ("crc16-arc", 0xBB3D, "CRC16-ARC", crccheck.crc.CrcArc),
    ("crc8-smbus", 0xF4, "CRC8-SMBUS", crccheck.crc.Crc8Smbus),
    ("crc8-maxim", 0xA1, "CRC8-MAXIM-DOW", crccheck.crc.Crc8MaximDow),
]


@pytest.mark.parametrize(("name", "check", "other", "another"), CATALOGUE)
@given(data=st.binary(max_size=40))
def test_crcs_are_those_of_the_catalogue(name: str, check: int, other: str, another: Any, data: bytes) -> None:
    _, compute = CHECKS[name]
    assert compute(b"123456789") == check
    assert compute(data) == anycrc.Model(other).calc(data) == another.calc(data)


@given(data=st.binary(max_size=40))
def test_the_simple_ones_do_what_their_names_say(data: bytes) -> None:
    parity = 0
    for byte in data:
        parity ^= byte
    assert CHECKS["xor"][1](data) == parity
    assert CHECKS["sum"][1](data) == sum(data) % 256
    assert (CHECKS["negated-sum"][1](data) + sum(data)) % 256 == 0


def test_every_crc_on_offer_is_checked() -> None:
    assert {name for name in CHECKS if name.startswith("crc")} == {name for name, *_ in CATALOGUE}
