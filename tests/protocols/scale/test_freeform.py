"""The free-form layout: what it reads, and what it refuses rather than guesses."""

import pytest

from neckyoke.protocols.readings import KG_PER, Condition, Mode, Reject, RejectReason, WeightReading
from neckyoke.protocols.scale.freeform import FreeForm

READ = [
    (b"ST,GS,+00000.0kg", 0.0, "kg", True, Mode.GROSS),
    (b"US,NT,-  12.5lb", -12.5 * 0.45359237, "lb", False, Mode.NET),
    (b"S  411.5kg", 411.5, "kg", True, None),
    (b"U  411.5kg", 411.5, "kg", False, None),
    (b"D  411.5kg", 411.5, "kg", False, None),
    (b"+  12.5 kg", 12.5, "kg", None, None),
    (b"- 12.5", -12.5, "kg", None, None),
    (b"12,5 kg", 12.5, "kg", None, None),
    (b"0412,500 kg", 412.5, "kg", None, None),
    (b"ST,GS,+0412,5kg", 412.5, "kg", True, Mode.GROSS),
    (b"0,250 t", 250.0, "t", None, None),
    (b"-0012.5", -12.5, "kg", None, None),
    (b"  318.5 kg G", 318.5, "kg", None, Mode.GROSS),
    (b"318.5 lb ?", 318.5 * 0.45359237, "lb", False, None),
    (b"318.5 G", 318.5, "kg", None, Mode.GROSS),
    (b"318500 g", 318.5, "g", None, None),
    (b"318.5kg g", 318.5, "kg", None, Mode.GROSS),
    (b"0.3185t", 318.5, "t", None, None),
    (b"12.5 T", 12.5, "kg", None, Mode.TARE),
    (b"12.5kgGS", 12.5, "kg", None, Mode.GROSS),
    (b"12.5 kgs", 12.5, "kg", None, None),
    (b"12.5LBS", 12.5 * 0.45359237, "lb", None, None),
    (b"NET kg 412.5", 412.5, "kg", None, Mode.NET),
    (b"Weight: 412.5 KG (stable)", 412.5, "kg", True, None),
    (b".5kg", 0.5, "kg", None, None),
    (b"412. kg", 412.0, "kg", None, None),
    (b" 412.5GM -   ", 412.5, "kg", False, Mode.GROSS),
    (b" 412.5G Z-kg ", 412.5, "kg", None, Mode.GROSS),
]


@pytest.mark.parametrize(("frame", "kg", "unit", "stable", "mode"), READ)
def test_one_number_and_known_words_are_read(frame: bytes, kg: float, unit: str, stable: object, mode: object) -> None:
    reading = FreeForm().decode(frame)
    assert isinstance(reading, WeightReading), reading
    assert reading.kg == pytest.approx(kg, rel=1e-15)
    assert (reading.unit, reading.stable, reading.mode) == (unit, stable, mode)
    assert reading.condition is Condition.OK


@pytest.mark.parametrize(
    ("frame", "reason"),
    [
        (b"412,500 kg", RejectReason.TWO_NUMBERS),  # thousands, or a decimal comma?
        (b"S,1,12", RejectReason.TWO_NUMBERS),  # a list, or a decimal comma?
        (b"1,412.5", RejectReason.TWO_NUMBERS),
        (b"ST,+1,125", RejectReason.TWO_NUMBERS),
        (b"ST,+0412,500kg", RejectReason.TWO_NUMBERS),
        (b"ST,001,12", RejectReason.TWO_NUMBERS),  # an address, and a weight?
        (b"412.5 412.5", RejectReason.TWO_NUMBERS),
        (b"12:30:05", RejectReason.TWO_NUMBERS),
        (b"412.5 kg 0004", RejectReason.TWO_NUMBERS),
        (b"412.5e3", RejectReason.TWO_NUMBERS),
        (b"S1 12.5", RejectReason.TWO_NUMBERS),
        (b"No. 12", RejectReason.UNKNOWN_STATUS),
        (b"ID 12", RejectReason.UNKNOWN_STATUS),
        (b"12.5 stone", RejectReason.UNKNOWN_STATUS),
        (b"12.5 kilograms", RejectReason.UNKNOWN_STATUS),
        (b"12.5-", RejectReason.UNKNOWN_STATUS),  # a sign behind, or a range?
        (b"(12.5) kg", RejectReason.UNKNOWN_STATUS),  # below nothing, as bookkeepers write it?
        (b"[ 12.5 kg ]", RejectReason.UNKNOWN_STATUS),
        (b"+-12", RejectReason.UNKNOWN_STATUS),
        (b"..5", RejectReason.UNKNOWN_STATUS),
        (b"=00412.5", RejectReason.UNKNOWN_STATUS),  # perhaps last digit first
        (b"12.5*", RejectReason.UNKNOWN_STATUS),
        (b"", RejectReason.NO_NUMBER),
        (b"------", RejectReason.NO_NUMBER),
        (b"HELLO", RejectReason.NO_NUMBER),
        (b"\x8112.5 kg", RejectReason.BAD_BYTES),
        (b"12.\x005 kg", RejectReason.BAD_BYTES),
        (b"1234567890", RejectReason.OUT_OF_RANGE),
        (b"999000000112233", RejectReason.OUT_OF_RANGE),
        (b"50000.5 kg", RejectReason.OUT_OF_RANGE),
        (b"-50000.5 kg", RejectReason.OUT_OF_RANGE),
        (b"0000000412.5 kg", RejectReason.OUT_OF_RANGE),
        (b"51 t", RejectReason.OUT_OF_RANGE),
    ],
)
def test_what_may_be_read_in_two_ways_is_refused(frame: bytes, reason: RejectReason) -> None:
    assert FreeForm().decode(frame) == Reject(reason, frame)


@pytest.mark.parametrize(
    ("frame", "condition", "kg"),
    [
        (b"OL,GS,+------ kg", Condition.OVERLOAD, None),
        (b"OVERLOAD", Condition.OVERLOAD, None),
        (b" O ", Condition.OVERLOAD, None),
        (b"UL", Condition.UNDERLOAD, None),
        (b"ERROR", Condition.ERROR, None),
        (b"2010.0O", Condition.OVERLOAD, 2010.0),
        (b"-10.0U", Condition.UNDERLOAD, -10.0),
    ],
)
def test_the_device_may_say_why_there_is_no_number(frame: bytes, condition: Condition, kg: float | None) -> None:
    reading = FreeForm().decode(frame)
    assert isinstance(reading, WeightReading)
    assert (reading.condition, reading.kg) == (condition, kg)


def test_a_frame_without_a_unit_takes_the_one_given() -> None:
    reading = FreeForm().decode(b"1000.0", "lb")
    assert isinstance(reading, WeightReading)
    assert (reading.kg, reading.unit) == (453.59237, "lb")  # 1 lb = 0.45359237 kg exactly (memory; two public parsers)


@pytest.mark.parametrize(("given", "unit"), [("lb", "lb"), (None, "kg")])
def test_why_there_is_no_number_is_said_in_the_unit_given(given: str | None, unit: str) -> None:
    reading = FreeForm().decode(b"OL", given)
    assert isinstance(reading, WeightReading)
    assert (reading.unit, reading.condition) == (unit, Condition.OVERLOAD)


def test_the_pound_is_exact_and_grams_are_not_smeared() -> None:
    assert KG_PER["lb"] == 0.45359237
    reading = FreeForm().decode(b"318501 g")
    assert isinstance(reading, WeightReading)
    assert reading.kg == 318.501


def test_surroundings_remembered_are_bounded() -> None:
    form = FreeForm()
    for number in range(2000):
        form.decode(b"%s 12.5 kg" % f"{number:b}".replace("0", "[").replace("1", "]").encode())
    assert form._known.cache_info().currsize <= 256


@pytest.mark.parametrize("frame", [b"-0.0 kg", b"ST,GS,-00000.0kg", b"-0 g"])
def test_no_weight_is_minus_zero(frame: bytes) -> None:
    reading = FreeForm().decode(frame)
    assert isinstance(reading, WeightReading)
    assert str(reading.kg) == "0.0"
