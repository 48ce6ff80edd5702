"""Layouts: the built-in ones beyond their captures, the user's own tables, and the errors that say what to write."""

from typing import Any

import pytest

from neckyoke.protocols.checksums import CHECKS
from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import Condition, Mode, Reject, RejectReason, WeightReading
from neckyoke.protocols.scale.builtin import BUILT_IN, LayoutError, find_layout, layout_from_table
from neckyoke.protocols.scale.layout import LayoutReader


def read(table: dict[str, Any], frame: bytes, unit: str | None = None) -> WeightReading | Reject:
    return LayoutReader(layout_from_table("own", table)).decode(frame, unit)


def weight(outcome: object) -> WeightReading:
    assert isinstance(outcome, WeightReading), outcome
    return outcome


def test_a_blank_unit_is_not_guessed_until_one_was_seen() -> None:
    decoder = scale_decoder("sign-weight-flags")
    moving = b"\x02   412.5GM -   \x03"
    assert decoder.feed(moving) == [Reject(RejectReason.UNKNOWN_UNIT, moving[1:-1])]
    decoder.feed(b"\x02   412.5G  -lb \x03")
    assert weight(decoder.feed(moving)[0]).unit == "lb"
    decoder.reset()
    assert decoder.feed(moving) == [Reject(RejectReason.UNKNOWN_UNIT, moving[1:-1])]


def test_the_free_form_layout_keeps_the_unit_last_named() -> None:
    decoder = scale_decoder()
    readings = [weight(outcome) for outcome in decoder.feed(b"10 lb\r\n10\r\n10 kg\r\n10\r\n10 lb\r\n10\r\n")]
    assert [reading.unit for reading in readings] == ["lb", "lb", "kg", "kg", "lb", "lb"]


@pytest.mark.parametrize(
    ("frame", "condition"),
    [(b"        O", Condition.OVERLOAD), (b" -------E", Condition.ERROR)],
)
def test_blanked_digits_with_a_reason_are_a_reading_without_a_number(frame: bytes, condition: Condition) -> None:
    reading = weight(LayoutReader(BUILT_IN["sign-weight-status"]).decode(frame))
    assert (reading.kg, reading.condition) == (None, condition)
    assert LayoutReader(BUILT_IN["sign-weight-status"]).decode(b"        G") == Reject(
        RejectReason.NO_NUMBER, b"        G"
    )


def test_several_numbers_in_one_frame_give_the_one_asked_for() -> None:
    frame = b"G+00412.5kg,T+00010.0kg,N+00402.5kg"
    for take, kg in (("gross", 412.5), ("net", 402.5), ("tare", 10.0)):
        reading = weight(read({"like": "gross-tare-net", "take": take}, frame))
        assert (reading.kg, reading.mode) == (kg, Mode(take))


def test_status_bits_say_what_they_say_when_set_and_when_clear() -> None:
    bits = {"moving": 3, "net": 0, "zero": 1, "overload": 7, "lb": 2}
    table: dict[str, Any] = {"pattern": "(?P<flags>.)(?P<value>[0-9.]+)", "bits": {"flags": bits}}
    calm = weight(read(table, b"@12.5"))
    assert (calm.stable, calm.mode, calm.at_zero, calm.unit) == (True, Mode.GROSS, False, "kg")
    busy = weight(read(table, bytes([0x40 | 0b1111]) + b"12.5"))
    assert (busy.stable, busy.mode, busy.at_zero, busy.unit) == (False, Mode.NET, True, "lb")
    assert weight(read(table, b"\xc012.5")).condition is Condition.OVERLOAD
    stable = {
        "pattern": "(?P<value>[0-9.]+) (?P<f>[0-9A-F]{2})",
        "bits": {"f": {"spelled": "hex", "stable": 4, "gross": 0}},
    }
    assert [weight(read(stable, b"12.5 " + text)).stable for text in (b"10", b"01")] == [True, False]
    assert [weight(read(stable, b"12.5 " + text)).mode for text in (b"10", b"01")] == [Mode.NET, Mode.GROSS]


@pytest.mark.parametrize(
    ("decimals", "text", "kg"),
    [
        (1, b"004125", 412.5),
        (0, b"004125", 4125.0),
        (2, b"004125", 41.25),
        (1, b"0412.5", 412.5),
        (1, b"0412,5", 412.5),
    ],
)
def test_a_point_that_is_not_sent_is_implied_and_one_that_is_sent_counts(decimals: int, text: bytes, kg: float) -> None:
    assert weight(read({"pattern": "(?P<value>[0-9.,]+)", "decimals": decimals}, text)).kg == kg


@pytest.mark.parametrize(("text", "kg"), [(b"-  12.5", -12.5), (b"+12", 12.0), (b"  12. ", 12.0), (b"12,5", 12.5)])
def test_a_value_may_hold_its_sign_blanks_and_a_comma(text: bytes, kg: float) -> None:
    assert weight(read({"pattern": "(?P<value>[-+ 0-9.,]+)"}, text)).kg == kg


@pytest.mark.parametrize(("text", "kg"), [(b"=5.21400", 412.5), (b"=0.00000", 0.0), (b"=5.210-", -12.5), (b"=5", 5.0)])
def test_digits_may_come_last_first(text: bytes, kg: float) -> None:
    assert weight(read({"pattern": "=(?P<value>[-0-9.]+)", "backwards": True}, text)).kg == kg


@pytest.mark.parametrize("text", [b"nan", b"inf", b"1e3", b"1_0", b"1 2", b"1.2.3", b"--1"])
def test_what_only_looks_like_a_number_is_refused(text: bytes) -> None:
    reader = LayoutReader(layout_from_table("own", {"pattern": "(?P<value>.+)"}))
    for _ in range(2):
        assert weight(reader.decode(b"12.5")).kg == 12.5
        assert isinstance(reader.decode(text), Reject)


@pytest.mark.parametrize(
    ("layout", "frame"),
    [
        ("weight-unit", b"  1,234 lb\r\n"),
        ("status-weight", b"S   1,234 lb\r\n"),
        ("status-mode-weight", b"ST,GS,+ 1,234lb\r\n"),
        ("gross-tare-net", b"G+1,412kg,T+0kg,N+1,412kg\r\n"),
        ("sign-weight-status", b"\x02   1,234G\x03"),
        ("auto", b"  1,234 lb\r\n"),
    ],
)
def test_a_comma_that_may_part_thousands_is_never_guessed(layout: str, frame: bytes) -> None:
    # both habits are common practice, no source
    (outcome,) = scale_decoder(layout).feed(frame)
    assert isinstance(outcome, Reject)
    assert outcome.reason is RejectReason.TWO_NUMBERS


@pytest.mark.parametrize(
    ("thousands", "text", "value"),
    [
        ("", b"1,234.5 lb", "1234.5"),  # a point behind it: it can be nothing else
        (",", b"1,234 lb", "1234"),
        (",", b"987 lb", "987"),
        (".", b"1.234 lb", "1234"),
        (".", b"1.234,5 lb", "1234.5"),
    ],
)
def test_thousands_are_read_where_the_layout_says_how_they_are_parted(thousands: str, text: bytes, value: str) -> None:
    table = {"pattern": "(?P<value>[0-9.,]+) (?P<unit>lb)"} | ({"thousands": thousands} if thousands else {})
    reading = LayoutReader(layout_from_table("own", table)).decode(text)
    assert isinstance(reading, WeightReading)
    assert reading.value == value


def test_an_unknown_token_is_named_and_a_table_may_be_for_one_group() -> None:
    table: dict[str, Any] = {
        "pattern": "(?P<first>.)(?P<second>.)(?P<value>[0-9]+)",
        "tokens": {"first": {"stable": [" "], "moving": ["M"]}, "second": {"zero": ["Z"], "ignored": [" "]}},
    }
    assert weight(read(table, b" Z0")).at_zero is True
    assert weight(read(table, b"M 0"))[3:6] == (False, None, None)
    assert read(table, b"Z 0") == Reject(RejectReason.UNKNOWN_STATUS, b"Z 0")


def test_a_frame_of_another_shape_says_why() -> None:
    reader = LayoutReader(BUILT_IN["status-mode-weight"])
    for frame, reason in (
        (b"ST;GS;12", RejectReason.WRONG_SHAPE),
        (b"hello", RejectReason.NO_NUMBER),
        (b"ST,GS,+0041\xff.5kg", RejectReason.BAD_BYTES),
    ):
        assert reader.decode(frame) == Reject(reason, frame)


STARTED = b"\x02412.5"


@pytest.mark.parametrize("kind", ["xor", "sum", "negated-sum", "crc8-smbus", "crc16-modbus"])
def test_a_damaged_check_is_refused(kind: str) -> None:
    width, compute = CHECKS[kind]
    table = {
        "pattern": r"(?P<covered>(?P<value>[0-9.]+))\*(?P<check>[0-9A-F]*)",
        "checksum": {"kind": kind, "stx": True},
    }
    good = f"{compute(STARTED):0{2 * width}X}".encode()
    assert weight(read(table, b"412.5*" + good)).kg == 412.5
    assert read(table, b"412.6*" + good) == Reject(RejectReason.BAD_CHECKSUM, b"412.6*" + good)
    assert isinstance(read(table, b"412.5*"), Reject)
    low = {**table, "checksum": {"kind": kind, "stx": True, "low_first": True}}
    turned = good if width == 1 else good[2:] + good[:2]
    assert weight(read(low, b"412.5*" + turned)).kg == 412.5


def test_wrong_parity_is_named() -> None:
    layouts = {"own": layout_from_table("own", {"like": "status-mode-weight", "parity": "odd"})}
    frame = bytes(byte | (0x80 if byte.bit_count() % 2 == 0 else 0) for byte in b"ST,GS,+00412.5kg\r\n")
    decoder = scale_decoder("own", None, layouts)
    assert weight(decoder.feed(frame)[0]).kg == 412.5
    damaged = bytes([frame[0] ^ 0x01]) + frame[1:]
    (outcome,) = decoder.feed(damaged)
    assert isinstance(outcome, Reject)
    assert outcome.reason is RejectReason.BAD_PARITY


def test_space_parity_is_no_high_bit() -> None:
    layouts = {"own": layout_from_table("own", {"like": "weight", "parity": "space"})}
    assert weight(scale_decoder("own", None, layouts).feed(b"12.5\r\n")[0]).kg == 12.5
    (outcome,) = scale_decoder("own", None, layouts).feed(b"12\xae5\r\n")
    assert isinstance(outcome, Reject)
    assert outcome.reason is RejectReason.BAD_PARITY


def test_status_texts_remembered_are_bounded() -> None:
    table = {"pattern": "(?P<flags>....)(?P<value>[0-9]+)", "bits": {"flags": {"moving": 0}}}
    reader = LayoutReader(layout_from_table("own", table))
    for number in range(3000):
        assert weight(reader.decode(b"%04d7" % number)).stable == (number % 2 == 0)
    assert reader._known.cache_info().currsize <= 512


def test_hexadecimal_status_and_checks_that_are_none_are_named() -> None:
    bits = {"pattern": "(?P<flags>..)(?P<value>[0-9]+)", "bits": {"flags": {"spelled": "hex", "moving": 0}}}
    assert read(bits, b"0G12") == Reject(RejectReason.UNKNOWN_STATUS, b"0G12")
    check = {"pattern": r"(?P<value>[0-9]+)\*(?P<check>..)", "checksum": {"kind": "xor"}}
    assert read(check, b"12*0G") == Reject(RejectReason.BAD_CHECKSUM, b"12*0G")


def test_a_layout_of_ones_own_may_start_from_a_built_in_one_and_take_its_name() -> None:
    own = layout_from_table("weight-unit", {"like": "weight", "unit": "lb"})
    assert find_layout("weight-unit", {"weight-unit": own}) is own
    (reading,) = scale_decoder("weight-unit", None, {"weight-unit": own}).feed(b"1000\r\n")
    assert weight(reading).kg == 453.59237


OPTIONAL_UNIT = {"pattern": "(?P<value>[0-9.]+)(?: (?P<unit>[a-z]*))?", "unit": "kg", "blank_unit": "moving"}


@pytest.mark.parametrize(("frame", "stable"), [(b"412.5", None), (b"412.5 ", False)])
def test_a_unit_that_takes_no_part_says_nothing_and_a_blank_one_what_the_layout_says(
    frame: bytes, stable: object
) -> None:
    assert weight(read(OPTIONAL_UNIT, frame)).stable is stable


def test_what_words_mean_is_remembered_within_bounds() -> None:
    table = {"pattern": "(?P<flags>....)(?P<value>[0-9]+)", "bits": {"flags": {"moving": 0}}}
    reader = LayoutReader(layout_from_table("own", table))
    read = [weight(reader.decode(b"%04d7" % number)).stable for number in range(3000)]
    assert read == [number % 2 == 0 for number in range(3000)]
    assert reader._known.cache_info().currsize <= 512


VALUE = "(?P<value>[0-9]+)"
WRONG: list[tuple[dict[str, Any], str]] = [
    ({}, "layouts.own.pattern: a layout has either a pattern or like"),
    ({"pattern": VALUE, "like": "weight"}, "layouts.own.pattern: a layout has either"),
    ({"like": "wieght"}, "layouts.own.like: 'wieght' is not known; write one of sign-weight-status"),
    ({"pattern": "("}, "layouts.own.pattern: is no regular expression"),
    ({"pattern": "(?P<value>[0-9]+)€"}, "layouts.own.pattern: is no regular expression"),
    ({"pattern": "[0-9]+"}, "layouts.own.pattern: needs a group"),
    ({"pattern": "(?P<net>[0-9]+)"}, "layouts.own.pattern: needs a group"),
    ({"pattern": 5}, "layouts.own.pattern: is a text, not 5"),
    ({"patern": VALUE}, "layouts.own.patern: is not known here; did you mean pattern?"),
    ({"pattern": VALUE, "decimals": "1"}, "layouts.own.decimals: is a whole number, not '1'"),
    ({"pattern": VALUE, "decimals": True}, "layouts.own.decimals: is a whole number, not True"),
    ({"pattern": VALUE, "decimals": 9}, "layouts.own.decimals: is the number of digits"),
    ({"pattern": VALUE, "unit": "stone"}, "layouts.own.unit: 'stone' is not known; write one of g, kg, lb, t"),
    ({"pattern": VALUE, "framing": "lines"}, "layouts.own.framing: framing 'lines' is not known; write one of"),
    (
        {"pattern": VALUE, "framing": "fixed:6"},
        "layouts.own.framing: fixed:6 needs a pattern that begins",
    ),
    ({"pattern": VALUE, "parity": "none"}, "layouts.own.parity: 'none' is not known; write one of even"),
    ({"pattern": VALUE, "take": "value"}, "layouts.own.take: 'value' is not known; write one of gross, net, tare"),
    ({"pattern": VALUE, "tokens": []}, "layouts.own.tokens: is a table"),
    ({"pattern": VALUE, "tokens": {"stabel": ["S"]}}, "layouts.own.tokens.stabel: is not known here; did you mean"),
    ({"pattern": VALUE, "tokens": {"stable": [1]}}, "layouts.own.tokens.stable: write a list of texts"),
    ({"pattern": VALUE, "tokens": {"stable": ["S"], "moving": ["S"]}}, "layouts.own.tokens.moving: 'S' already means"),
    ({"pattern": VALUE, "tokens": {"state": {"stable": ["S"]}}}, "layouts.own.tokens.state: the pattern has no group"),
    ({"pattern": "(?P<s>.)" + VALUE}, "layouts.own.tokens: say what the texts of"),
    ({"pattern": VALUE, "bits": {"f": {"moving": 1}}}, "layouts.own.bits.f: the pattern has no group"),
    ({"pattern": "(?P<f>.)" + VALUE, "bits": {"f": {"moving": 99}}}, "layouts.own.bits.f.moving: is a bit number"),
    ({"pattern": "(?P<f>.)" + VALUE, "bits": {"f": {"shaking": 1}}}, "layouts.own.bits.f.shaking: is not known"),
    (
        {"pattern": "(?P<f>.)" + VALUE, "bits": {"f": {"moving": 1, "spelled": "bit"}}},
        "layouts.own.bits.f.spelled: 'bit' is not known; write one of byte, hex",
    ),
    ({"pattern": VALUE, "checksum": {"kind": "xor"}}, "layouts.own.checksum: needs a group"),
    (
        {"pattern": VALUE, "checksum": {"kind": "md5"}},
        "layouts.own.checksum.kind: 'md5' is not known; write one of xor",
    ),
    ({"pattern": VALUE, "checksum": {}}, "layouts.own.checksum.kind: write one of xor"),
]


@pytest.mark.parametrize(("table", "message"), WRONG)
def test_a_wrong_table_is_refused_with_its_key_and_what_would_be_right(table: dict[str, Any], message: str) -> None:
    with pytest.raises(LayoutError) as caught:
        layout_from_table("own", table)
    assert str(caught.value).startswith(message)


def test_an_unknown_layout_is_refused_with_those_there_are() -> None:
    with pytest.raises(LayoutError, match=r"there is no layout 'x'; there are auto, gatt-weight, own, sign-"):
        scale_decoder("x", None, {"own": BUILT_IN["weight"]})


@pytest.mark.parametrize("layout", ["auto", "weight-unit"])
def test_frames_of_fixed_length_need_a_layout_that_marks_their_start(layout: str) -> None:
    with pytest.raises(LayoutError, match="fixed:8"):
        scale_decoder(layout, "fixed:8")


def test_every_built_in_layout_says_where_it_is_from() -> None:
    assert all(layout.source for layout in BUILT_IN.values())
    assert {name: layout.name for name, layout in BUILT_IN.items()} == {name: name for name in BUILT_IN}
