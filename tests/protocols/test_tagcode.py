"""ISO 11784 codes against published and independently computed values, and country codes against pycountry.

Marks as the check values came: [R] read in the named source, [L] computed and reproduced with an independent library.
"""

import bitstring
import pycountry
import pytest

from neckyoke.protocols.countries import COUNTRIES, NORTHERN_IRELAND
from neckyoke.protocols.readings import Reject, RejectReason
from neckyoke.protocols.tagcode import NATIONAL_MAX, Remark, TagCode

VECTORS = [
    # digits, value hex, air hex, further fields                                             source
    ("999000000112233", "8000F9C00001B669", "966D8000039F0001", {}),  # [R] README of a general RFID research tool
    ("999000000112233", "0001F9C00001B669", "966D8000039F8000", {"animal": False, "data_block": True}),  # [L] capture
    ("999000000112233", "8001F9C00001B669", "966D8000039F8001", {"data_block": True}),  # [L] capture
    ("999001500030037", "0000F9C05968A455", "AA25169A039F0000", {"animal": False}),  # [R] a public decoder's test
    ("999274877906943", "8000F9FFFFFFFFFF", "FFFFFFFFFF9F0001", {}),  # [L] from here on: synthetic
    ("999000000000000", "8000F9C000000000", "00000000039F0001", {}),
    ("036000000000001", "8000090000000001", "8000000000900001", {}),
    ("008000000012345", "8000020000003039", "9C0C000000400001", {}),
    ("554123456789012", "80008A9CBE991A14", "2858997D39510001", {}),
    ("826100000000001", "9200CE974876E801", "80176E12E9730049", {"retag": 1, "user": 4}),
    ("900000000000001", "8000E10000000001", "8000000000870001", {}),
    ("998274877906943", "8000F9BFFFFFFFFF", "FFFFFFFFFD9F0001", {}),
    ("999000000000001", "0000F9C000000001", "80000000039F0000", {"animal": False}),
    ("1023000000000001", "8000FFC000000001", "8000000003FF0001", {}),
]


@pytest.mark.parametrize(("digits", "value", "air", "fields"), VECTORS)
def test_codes_agree_in_all_their_spellings(digits: str, value: str, air: str, fields: dict[str, object]) -> None:
    for code in (TagCode.from_hex(value), TagCode.from_hex(air.lower(), "air"), TagCode.from_value(int(value, 16))):
        assert isinstance(code, TagCode)
        assert str(code) == digits
        expected = {"animal": True, "retag": 0, "user": 0, "reserved": 0, "data_block": False} | fields
        assert {name: getattr(code, name) for name in expected} == expected
        if not fields and len(digits) == 15:
            assert TagCode.from_digits(digits) == code


@pytest.mark.parametrize(("digits", "value", "air", "fields"), VECTORS)
def test_bit_positions_agree_with_an_independent_reader(
    digits: str, value: str, air: str, fields: dict[str, object]
) -> None:
    """ISO numbers bits 1 to 64 with bit 64 first on air: bit 1 is the highest of the value (H4005 datasheet [R])."""
    bits = bitstring.BitArray(hex=value)
    code = TagCode.from_hex(value)
    assert isinstance(code, TagCode)
    assert (code.animal, code.data_block) == (bits[0], bits[15])
    assert (code.retag, code.user, code.reserved) == (bits[1:4].uint, bits[4:9].uint, bits[9:15].uint)
    assert (code.country, code.national) == (bits[16:26].uint, bits[26:].uint)
    bits.reverse()
    assert bits.hex.upper() == air


def test_the_animal_flag_is_the_last_bit_on_air() -> None:
    """A public package puts the flag at transmitted bit 49, which its own captures contradict [R, a negative check]."""
    codes = [TagCode.from_hex(text, "air") for text in ("966D8000039F8000", "966D8000039F0001")]
    assert [code.animal for code in codes if isinstance(code, TagCode)] == [False, True]
    assert [code.data_block for code in codes if isinstance(code, TagCode)] == [True, False]


@pytest.mark.parametrize(
    ("digits", "reason"),
    [
        ("99900000011223", RejectReason.WRONG_LENGTH),
        ("9990000001122334", RejectReason.WRONG_LENGTH),
        ("", RejectReason.WRONG_SHAPE),
        ("99900000011223x", RejectReason.WRONG_SHAPE),
        ("٩٩٩000000112233", RejectReason.WRONG_SHAPE),
        ("999274877906944", RejectReason.OUT_OF_RANGE),
        ("999999999999999", RejectReason.OUT_OF_RANGE),
    ],
)
def test_digits_that_no_tag_holds_are_refused(digits: str, reason: RejectReason) -> None:
    refused = TagCode.from_digits(digits)
    assert isinstance(refused, Reject)
    assert refused.reason is reason


@pytest.mark.parametrize(
    ("text", "reason"),
    [("8000F9C00001B66", RejectReason.WRONG_LENGTH), ("8000F9C00001B66G", RejectReason.WRONG_SHAPE)],
)
def test_hexadecimal_that_is_none_is_refused(text: str, reason: RejectReason) -> None:
    refused = TagCode.from_hex(text)
    assert isinstance(refused, Reject)
    assert refused.reason is reason


@pytest.mark.parametrize("value", [-1, 1 << 64])
def test_values_beyond_64_bits_are_refused(value: int) -> None:
    refused = TagCode.from_value(value)
    assert isinstance(refused, Reject)
    assert refused.reason is RejectReason.OUT_OF_RANGE


def test_the_largest_national_code_has_twelve_digits() -> None:
    assert NATIONAL_MAX == 274_877_906_943  # ICAR slide: 38 bits = 274 877 906 944 codes [R]


@pytest.mark.parametrize(
    ("code", "remarks"),
    [
        (TagCode(276, 1), ()),
        (TagCode(NORTHERN_IRELAND, 1), ()),  # Regulation (EU) 2021/520, Art. 12(a)(ii) [R]
        (TagCode(900, 1), ()),
        (TagCode(998, 1), ()),
        (TagCode(999, 1), (Remark.TEST_CODE,)),
        (TagCode(0, 1), (Remark.NO_COUNTRY,)),
        (TagCode(1, 1), (Remark.ODD_COUNTRY,)),
        (TagCode(898, 1), (Remark.ODD_COUNTRY,)),
        (TagCode(1000, 1), (Remark.CODE_TOO_HIGH,)),
        (TagCode(1023, 1), (Remark.CODE_TOO_HIGH,)),
        (TagCode(276, 1, animal=False), (Remark.NOT_ANIMAL,)),
        (TagCode(276, 1, reserved=1), (Remark.RESERVED_BITS,)),
        (TagCode(276, 1, data_block=True), (Remark.DATA_BLOCK,)),
        (TagCode(276, 1, retag=7, user=31), ()),
        (TagCode(999, 1, animal=False, data_block=True), (Remark.NOT_ANIMAL, Remark.TEST_CODE, Remark.DATA_BLOCK)),
    ],
)
def test_what_is_odd_about_a_code_is_said(code: TagCode, remarks: tuple[Remark, ...]) -> None:
    assert code.remarks() == remarks


def test_countries_are_those_of_iso_3166() -> None:
    published = {int(country.numeric) for country in pycountry.countries}
    assert published | {NORTHERN_IRELAND} == COUNTRIES
    assert max(published) < 895  # nothing of ISO 3166-1 reaches into the manufacturers' range [L]


@pytest.mark.parametrize(
    ("number", "alpha"),
    [(8, "AL"), (36, "AU"), (76, "BR"), (124, "CA"), (276, "DE"), (372, "IE"), (554, "NZ"), (826, "GB"), (858, "UY")],
)
def test_a_leading_zero_of_a_country_is_kept(number: int, alpha: str) -> None:
    country = pycountry.countries.get(alpha_2=alpha)
    assert country is not None
    assert str(TagCode(number, 7))[:3] == country.numeric == f"{number:03d}"
