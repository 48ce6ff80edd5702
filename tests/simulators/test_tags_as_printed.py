"""Tags spelt: checked against public capture values and an independent reader of bits."""

import pytest
from bitstring import BitArray
from crccheck.crc import CrcKermit

from neckyoke.simulators.spelling.tags import SPELLINGS, Tag
from neckyoke.simulators.spelling.telegrams import crc16, fdxb, flip, hdx, pack

# Captures with published values in a public RFID research tool (its traces and tests): code and number in the first
# row, the CRC on air in all.  The last row is a published number and CRC of another public project's tests.
CAPTURED = [
    (Tag(112233), 0, "966D8000039F0001", 0xDC48, "0032D6DC0402079F80406253B8040201"),
    (Tag(112233, animal=False, data_block=True), 0x16A, "966D8000039F8000", 0x4198, "0032D6DC0402079FC04023382AB60201"),
    (Tag(112233, data_block=True), 0x16A, "966D8000039F8001", 0xC590, "0032D6DC0402079FC040613A3AB60201"),
    (Tag(1500030037, animal=False), 0, "AA25169A039F0000", 0x8A1C, None),
]

# Edge values computed with two CRC libraries: synthetic, not published.
SYNTHETIC = [
    (Tag(274877906943), "8000F9FFFFFFFFFF", "FFFFFFFFFF9F0001", 0x250C),
    (Tag(0), "8000F9C000000000", "00000000039F0001", 0xAFFB),
    (Tag(1, 36), "8000090000000001", "8000000000900001", 0x99A9),
    (Tag(12345, 8), "8000020000003039", "9C0C000000400001", 0xA671),
    (Tag(123456789012, 554), "80008A9CBE991A14", "2858997D39510001", 0xCE00),
    (Tag(100000000001, 826, retag=1, user=4), "9200CE974876E801", "80176E12E9730049", 0x2FC6),
    (Tag(1, 900), "8000E10000000001", "8000000000870001", 0x56CA),
    (Tag(274877906943, 998), "8000F9BFFFFFFFFF", "FFFFFFFFFD9F0001", 0x33BB),
    (Tag(1, animal=False), "0000F9C000000001", "80000000039F0000", 0xAA4C),
    (Tag(1, 1023), "8000FFC000000001", "8000000003FF0001", 0xF89D),
]


@pytest.mark.parametrize(("tag", "extension", "air", "crc", "frame"), CAPTURED)
def test_captured_telegrams_are_sent_bit_for_bit(
    tag: Tag, extension: int, air: str, crc: int, frame: str | None
) -> None:
    assert tag.air.hex().upper() == air
    assert crc16(tag.value.to_bytes(8, "little")) == crc
    if frame is not None:
        assert pack(fdxb(tag, extension)).hex().upper() == frame


@pytest.mark.parametrize(("tag", "value", "air", "crc"), SYNTHETIC)
def test_edge_values(tag: Tag, value: str, air: str, crc: int) -> None:
    assert f"{tag.value:016X}" == value
    assert tag.air.hex().upper() == air
    assert crc16(tag.value.to_bytes(8, "little")) == crc == CrcKermit.calc(tag.value.to_bytes(8, "little"))


def test_the_catalogue_check_value_of_the_crc() -> None:
    assert crc16(b"123456789") == 0x2189  # CRC-16/KERMIT in the CRC catalogue


def test_the_air_order_is_the_value_read_backwards() -> None:
    tag = Tag(123456789012, 554, user=17, retag=5)
    bits = BitArray(uint=tag.value, length=64)
    bits.reverse()
    assert tag.air == bits.bytes


def test_telegrams_have_their_lengths_and_control_bits() -> None:
    bits = fdxb(Tag(112233), 0xABCDEF)
    assert len(bits) == 128
    assert bits[:11] == "00000000001"
    assert {bits[at] for at in range(19, 128, 9)} == {"1"}
    assert "0000000000" not in bits[1:]  # nothing after the start looks like a start
    half = hdx(Tag(112233))
    assert len(half) == 112
    assert half[:8] == "01111110"  # from memory: no source for the HDX start
    assert half[8:72] == BitArray(Tag(112233).air).bin


def test_a_flipped_bit_is_another_telegram() -> None:
    bits = fdxb(Tag(112233))
    assert flip(flip(bits, 20), 20) == bits
    assert sum(a != b for a, b in zip(bits, flip(bits, 20, 99), strict=True)) == 2


@pytest.mark.parametrize(
    ("spelling", "line"),
    [
        ("digits", b"999000000112233\r\n"),
        ("space", b"999 000000112233\r\n"),
        ("hyphen", b"999-000000112233\r\n"),
        ("letters", b"TAG 999000000112233\r\n"),
        ("wrapped", b"\x02999000000112233\x03"),
        ("wrapped-line", b"\x02999 000000112233\r\n"),
        ("hex-value", b"8000F9C00001B669\r\n"),
        ("hex-air", b"966D8000039F0001\r\n"),
        ("hex-parts", b"3E7000001B669\r\n"),
        ("full", b"1000000999000000112233\r\n"),
        ("full-wide", b"10000000999000000112233\r\n"),
    ],
)
def test_a_read_is_printed(spelling: str, line: bytes) -> None:
    assert SPELLINGS[spelling](Tag(112233)) == line


def test_leading_zeros_of_the_country_stay() -> None:
    assert str(Tag(1, 36)) == "036000000000001"
    assert all(b"1" in spell(Tag(1, 36)) for spell in SPELLINGS.values())
