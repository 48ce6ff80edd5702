"""ISO 11785 telegrams against captures with published values, and every small error in them.

[R] read in the named source; [L] recomputed with two CRC libraries; [M] from memory.
"""

import itertools
import random

import anycrc
import crccheck.crc
import pytest

from neckyoke.protocols.readings import Reject, RejectReason, TagRead
from neckyoke.protocols.tagcode import TagCode
from neckyoke.protocols.tags.telegram import (
    decode_fdxb,
    decode_fdxb_hex,
    decode_hdx,
    decode_hdx_hex,
    fdxb_extension,
    find_fdxb,
)
from tests.protocols.spelling import Code, fdxb, hdx, to_hex

CAPTURES = [
    # frame, value hex, CRC, extension, animal, block.  Captures in a public repository of a general RFID research tool;
    # code and number of the first published there [R]; for the others the CRC on air is the evidence [L].
    ("0032D6DC0402079F80406253B8040201", "8000F9C00001B669", 0xDC48, 0x000000, True, False),
    ("0032D6DC0402079FC04023382AB60201", "0001F9C00001B669", 0x4198, 0x00016A, False, True),
    ("0032D6DC0402079FC040613A3AB60201", "8001F9C00001B669", 0xC590, 0x00016A, True, True),
]

CRCS = [  # air bytes, CRC.  The second is published in a public decoder's test [R]; the rest are synthetic [L]
    ("966D8000039F0001", 0xDC48),
    ("AA25169A039F0000", 0x8A1C),
    ("FFFFFFFFFF9F0001", 0x250C),
    ("00000000039F0001", 0xAFFB),
    ("8000000000900001", 0x99A9),
    ("9C0C000000400001", 0xA671),
    ("2858997D39510001", 0xCE00),
    ("80176E12E9730049", 0x2FC6),
    ("8000000000870001", 0x56CA),
    ("FFFFFFFFFD9F0001", 0x33BB),
    ("80000000039F0000", 0xAA4C),
    ("8000000003FF0001", 0xF89D),
]


def bits_of(digits: str) -> str:
    return f"{int(digits, 16):0{4 * len(digits)}b}"


@pytest.mark.parametrize(("frame", "value", "crc", "extension", "animal", "block"), CAPTURES)
def test_captured_telegrams_read_as_published(
    frame: str, value: str, crc: int, extension: int, *, animal: bool, block: bool
) -> None:
    bits = bits_of(frame)
    read = decode_fdxb(bits)
    assert isinstance(read, TagRead)
    assert str(read.code) == "999000000112233"
    assert (read.code, read.code.animal, read.code.data_block) == (TagCode.from_hex(value), animal, block)
    assert fdxb_extension(bits) == extension
    assert decode_fdxb_hex(frame) == read
    data = int(value, 16).to_bytes(8, "little")
    assert crccheck.crc.CrcKermit.calc(data) == anycrc.Model("CRC16-KERMIT").calc(data) == crc


@pytest.mark.parametrize(("air", "crc"), CRCS)
def test_a_code_is_read_only_with_its_own_crc(air: str, crc: int) -> None:
    """Both recipes: KERMIT over the value lowest byte first, XMODEM over the bytes in air order."""
    data = bytes.fromhex(air)
    assert crccheck.crc.CrcXmodem.calc(data) == int(f"{crc:016b}"[::-1], 2)
    code = bits_of(air)
    for check in (crc, crc ^ 1, 0):
        body = code + f"{check:016b}"[::-1] + "0" * 24
        telegram = "00000000001" + "".join(body[at : at + 8] + "1" for at in range(0, len(body), 8))
        assert isinstance(decode_fdxb(telegram), TagRead) == (check == crc)
        assert isinstance(decode_hdx("01111110" + body), TagRead) == (check == crc)


@pytest.mark.parametrize(
    ("air", "wrong"),
    [
        ("966D8000039F0001", (0xF5B9, 0xAFE0, 0x5F3B, 0x2305)),
        ("AA25169A039F0000", (0x0665, 0x8CEA, 0x096F)),
    ],
)
def test_crcs_by_a_wrong_recipe_are_refused(air: str, wrong: tuple[int, ...]) -> None:
    """KERMIT over air bytes or highest byte first, X-25, CCITT-FALSE [L]: each plausible, none right."""
    for crc in wrong:
        body = bits_of(air) + f"{crc:016b}"[::-1] + "0" * 24
        refused = decode_hdx("01111110" + body)
        assert isinstance(refused, Reject)
        assert refused.reason is RejectReason.BAD_CHECKSUM


TELEGRAM = fdxb(Code(999, 112233))
CODEWORD = [at for at in range(11, 11 + 90) if (at - 10) % 9]
"""Where the 64 bits of the code and the 16 of the CRC stand in an FDX-B telegram."""


def flipped(bits: str, places: tuple[int, ...]) -> str:
    turned = [*bits]
    for at in places:
        turned[at] = "10"[int(turned[at])]
    return "".join(turned)


def test_the_spelling_used_here_is_the_capture() -> None:
    assert to_hex(TELEGRAM) == CAPTURES[0][0]
    assert len(CODEWORD) == 80


def test_every_error_of_one_or_two_bits_in_a_codeword_is_caught() -> None:
    for places in itertools.chain(itertools.combinations(CODEWORD, 1), itertools.combinations(CODEWORD, 2)):
        refused = decode_fdxb(flipped(TELEGRAM, places))
        assert isinstance(refused, Reject), places
        assert refused.reason is RejectReason.BAD_CHECKSUM


def test_errors_of_three_bits_are_caught_as_sampled() -> None:
    noise = random.Random(11)
    for _ in range(4000):
        places = tuple(noise.sample(CODEWORD, 3))
        assert isinstance(decode_fdxb(flipped(TELEGRAM, places)), Reject), places
        hdx_places = tuple(noise.sample(range(8, 88), 3))
        assert isinstance(decode_hdx(flipped(hdx(Code(999, 112233)), hdx_places)), Reject), hdx_places


def test_every_error_of_one_bit_anywhere_but_in_the_unproven_tail_is_caught() -> None:
    for at in range(128):
        outcome = decode_fdxb(flipped(TELEGRAM, (at,)))
        if at > 100 and (at - 10) % 9:  # the extension: nothing proves it, and the code is whole
            assert outcome == decode_fdxb(TELEGRAM)
            continue
        assert isinstance(outcome, Reject)
        header, control = at < 11, (at - 10) % 9 == 0
        assert outcome.reason is (
            RejectReason.BAD_HEADER
            if header
            else RejectReason.BAD_CONTROL_BITS
            if control
            else RejectReason.BAD_CHECKSUM
        )


def test_every_error_of_one_bit_in_an_hdx_telegram_is_named_but_in_the_trailer() -> None:
    telegram = hdx(Code(999, 112233))
    read = decode_hdx(telegram)
    assert isinstance(read, TagRead)
    for at in range(112):
        outcome = decode_hdx(flipped(telegram, (at,)))
        if at >= 88:
            assert outcome == read
            continue
        assert isinstance(outcome, Reject)
        assert outcome.reason is (RejectReason.BAD_HEADER if at < 8 else RejectReason.BAD_CHECKSUM)
    for other in (telegram[:-1], telegram + "0", flipped(telegram, (0,))[:-1]):
        refused = decode_hdx(other)
        assert isinstance(refused, Reject)
        assert refused.reason is RejectReason.WRONG_LENGTH


@pytest.mark.parametrize("decode", [decode_fdxb, decode_hdx, decode_fdxb_hex, decode_hdx_hex])
@pytest.mark.parametrize(
    ("text", "reason"),
    [("", RejectReason.WRONG_LENGTH), ("0" * 127, RejectReason.WRONG_LENGTH), ("2x", RejectReason.BAD_BYTES)],
)
def test_what_is_no_telegram_is_refused_by_name(decode: object, text: str, reason: RejectReason) -> None:
    assert callable(decode)
    refused = decode(text)
    assert isinstance(refused, Reject)
    assert refused.reason is reason


def test_telegrams_are_found_in_a_stream_wherever_they_begin() -> None:
    codes = [Code(999, 7), Code(999, 8, block=1), Code(276, 2**38 - 1)]
    stream = "0010110" + "".join(fdxb(code, 0x16A if code.block else 0) for code in codes)
    stream += "0000000000" + TELEGRAM[:60] + fdxb(codes[0])
    assert [str(read.code) for read in find_fdxb(stream)] == [code.digits for code in (*codes, codes[0])]
    assert find_fdxb(stream[:100]) == []
    assert find_fdxb(flipped(TELEGRAM, (40,)) + TELEGRAM) == [decode_fdxb(TELEGRAM)]


def test_a_stream_of_random_bits_holds_no_telegram() -> None:
    noise = random.Random(3)
    assert find_fdxb("".join(noise.choice("01") for _ in range(200_000))) == []
