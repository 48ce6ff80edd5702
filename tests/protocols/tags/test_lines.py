"""What readers print, beyond the captures: ambiguous spellings, what stands around a code, and codes that are none."""

import pytest

from neckyoke.protocols.decoder import tag_decoder
from neckyoke.protocols.framing.framer import LayoutError
from neckyoke.protocols.readings import Reject, RejectReason, TagRead
from neckyoke.protocols.tagcode import HexOrder, Remark
from neckyoke.protocols.tags.lines import decode_tag_line


@pytest.mark.parametrize(
    "line",
    [
        b"999000000112233",
        b"999 000000112233",
        b"999-000000112233",
        b"999 0000 0011 2233",
        b"LA 999 000000112233",
        b"LA999000000112233",
        b"TAG:999000000112233",
        b"R1:999000000112233",
        b"ID=999000000112233",
        b"A 999000000112233",
        b"02:11:09 999000000112233",
        b"2026-11-24 02:11:09 999000000112233",
        b"2026-11-24T02:11:09.250Z,999000000112233",
        b"24/11/2026 02:11:09 999 000000112233",
        b"ID 24.11.26 02:11:09 999000000112233",
        b"999000000112233 24/11/26 02:11",
        b"999000000112233,02:11:09",
        b"\x02999000000112233\x03",
        b"3E7000001B669",
        b"3e7 000001b669",
        b"999000000112233*39",  # 39 hex: XOR of the fifteen characters, by hand below
    ],
)
def test_a_code_is_read_whatever_stands_around_it(line: bytes) -> None:
    read = decode_tag_line(line)
    assert isinstance(read, TagRead), read
    assert str(read.code) == "999000000112233"


def test_the_check_of_the_starred_line_is_right() -> None:
    check = 0
    for byte in b"999000000112233":
        check ^= byte
    assert check == 0x39


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"99900000011223", RejectReason.WRONG_LENGTH),
        (b"9990000001122334", RejectReason.WRONG_LENGTH),
        (b"999 00000011223", RejectReason.WRONG_LENGTH),
        (b"999000000112233999000000112234", RejectReason.WRONG_LENGTH),
        (b"8000F9C00001B66", RejectReason.WRONG_LENGTH),
        (b"8000F9C00001B6690", RejectReason.WRONG_LENGTH),
        (b"999274877906944", RejectReason.OUT_OF_RANGE),
        (b"123 4000000000", RejectReason.WRONG_LENGTH),  # all decimal: as likely a cut code
        (b"3E7 F000000000", RejectReason.OUT_OF_RANGE),
        (b"1 0 32 00 0 999 000000112233", RejectReason.OUT_OF_RANGE),
        (b"1 0 00 64 0 999 000000112233", RejectReason.OUT_OF_RANGE),
        (b"1 0 00 00 0 1024 00000112233", RejectReason.WRONG_LENGTH),
        (b"000000000000000", RejectReason.UNSUCCESSFUL),
        (b"0000000000000000", RejectReason.WRONG_LENGTH),
        (b"NO TAG", RejectReason.NO_NUMBER),
        (b"READER 1.2", RejectReason.WRONG_LENGTH),
        (b"RSSI -61 999000000112233", RejectReason.WRONG_LENGTH),
        (b"9990 00000112233", RejectReason.WRONG_LENGTH),
        (b"99 9000000112233", RejectReason.WRONG_LENGTH),
        (b"999000000112233*38", RejectReason.BAD_CHECKSUM),
        (b"99900000\xb0112233", RejectReason.BAD_BYTES),
        (b"A380190000112233", RejectReason.WRONG_SHAPE),  # a prefix and a code, or a retagged code in hexadecimal
        (b"ST,GS,+00412.5kg", RejectReason.WRONG_SHAPE),
        (b"+00412.5", RejectReason.WRONG_SHAPE),
    ],
)
def test_what_is_no_code_is_refused_by_name(line: bytes, reason: RejectReason) -> None:
    assert decode_tag_line(line) == Reject(reason, line)


@pytest.mark.parametrize(
    ("line", "order", "digits"),
    [
        (b"8000090000000001", "value", "036000000000001"),  # all decimal, and an ordinary animal's code
        (b"A999000000112233", "value", "999000000112233"),  # a prefix: as hexadecimal it has reserved bits set
        (b"A001004000000000", "value", "001000000000000"),  # hexadecimal: as decimal it has no country
        (b"8000000001730049", "air", "826000000000001"),  # the order is said, so it is hexadecimal
        (b"966D8000039F0001", "air", "999000000112233"),
        (b"A036000001730049", "air", "826000000027653"),  # a letter and 15 digits of a code: still as the reader spells
    ],
)
def test_spellings_that_overlap_are_told_apart(line: bytes, order: HexOrder, digits: str) -> None:
    read = decode_tag_line(line, order)
    assert isinstance(read, TagRead), read
    assert str(read.code) == digits


@pytest.mark.parametrize("ending", [b"\r", b"\n", b"\r\n", b"\n\r", b"\x03", b"\x00\r\n\xff"])
@pytest.mark.parametrize("place", range(17))
def test_a_read_split_at_any_byte_is_one_read(ending: bytes, place: int) -> None:
    decoder = tag_decoder()
    stream = b"999000000112233" + ending
    outcomes = decoder.feed(stream[:place]) + decoder.feed(stream[place:])
    assert [str(outcome.code) for outcome in outcomes if isinstance(outcome, TagRead)] == ["999000000112233"]
    assert len(outcomes) == 1


@pytest.mark.parametrize("order", ["value", "air"])
def test_the_tail_of_a_longer_line_is_never_taken_for_a_code(order: HexOrder) -> None:
    """Joined in mid-frame, a reader's first line gives its own code or none."""
    lines = {
        "999000000112233": [
            b"999000000112233",
            b"LA 999 000000112233",
            b"10000000999000000112233",
            b"8000F9C00001B669",
        ],
        "036000000000001": [b"8000090000000001", b"036000000000001", b"1 0 00 00 0 036 000000000001"],
        "009000000112233": [b"800002400001B669"],
        "280000000900001": [b"280000000900001"],
    }
    if order == "air":
        lines = {"036000000000001": [b"8000000000900001"], "999000000112233": [b"966D8000039F0001"]}
    for digits, spellings in lines.items():
        for line in spellings:
            for place in range(len(line)):
                decoder = tag_decoder(hex_order=order)
                decoder.reset()
                outcomes = decoder.feed(line[place:] + b"\r\n")
                codes = [outcome.code for outcome in outcomes if isinstance(outcome, TagRead)]
                assert {str(code) for code in codes} <= {digits}
                assert all(code.animal for code in codes)
                assert not [outcome for outcome in outcomes if isinstance(outcome, Reject)]
                if not place:
                    assert len(outcomes) == 1


@pytest.mark.parametrize(
    ("line", "digits"),
    [(b"348 000001B669", "840000000112233"), (b"3FF 000000A001", "1023000000040961"), (b"01FC000000000", None)],
)
def test_country_and_number_in_hexadecimal_are_read_to_their_ends(line: bytes, digits: str | None) -> None:
    read = decode_tag_line(line)
    assert (str(read.code) if isinstance(read, TagRead) else None) == digits


def test_a_code_without_a_country_is_read_and_said_to_be_odd() -> None:
    read = decode_tag_line(b"000000000000001")
    assert isinstance(read, TagRead)
    assert read.code.remarks() == (Remark.NO_COUNTRY,)


def test_frames_of_fixed_length_must_begin_with_stx() -> None:
    decoder = tag_decoder("fixed:16")
    outcomes = decoder.feed(b"33\x02999000000112233\x02999000000112234")
    assert [str(outcome.code) for outcome in outcomes if isinstance(outcome, TagRead)] == [
        "999000000112233",
        "999000000112234",
    ]
    with pytest.raises(LayoutError, match="is not known"):
        tag_decoder("fixed")


@pytest.mark.parametrize(
    ("line", "order", "read"),
    [
        (b"999000000112233", "value", True),  # 15 digits: the end of 16 hexadecimal ones only where the country is none
        (b"999000000112233", "air", False),
        (b"000000000112233", "value", False),
        (b"3E7000001B669", "value", False),  # 13: the end of 16, or of 15 in capitals
        (b"999 000000112233", "value", True),
        (b"999 000000112233", "air", True),  # a separator stands in no hexadecimal code
        (b"8000F9C00001B669", "value", True),
    ],
)
def test_a_line_whose_start_was_not_seen_is_read_only_where_it_is_the_end_of_no_longer_one(
    line: bytes, order: HexOrder, *, read: bool
) -> None:
    assert isinstance(decode_tag_line(line, order, whole=False), TagRead) is read


def test_remarks_are_published_by_these_words() -> None:
    """The words of events' schema, which recorders read: they may be added to, and not changed."""
    assert {remark.value for remark in Remark} >= {
        "not-animal", "test-code", "no-country", "odd-country", "code-too-high", "reserved-bits", "data-block",
    }  # fmt: skip
