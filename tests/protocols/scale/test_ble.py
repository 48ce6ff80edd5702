"""The Bluetooth weight scale service against published vectors and an independent decoder."""

import pytest

from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import Condition, Reject, RejectReason, WeightReading
from neckyoke.protocols.scale.ble import FULL_SCALE_KG, UARTS, decode_weight_measurement

MEASURED = [
    ("0E C8 32 E9 07 0C 1F 17 3B 3A 02 D4 00 DB 06", 65.0, "kg"),  # test of a public decoder [R]
    ("02 B0 36 EA 07", 70.0, "kg"),  # a cut time stamp; the same test [R]
    ("00 10 27", 50.0, "kg"),  # arithmetic on the published resolution
    ("01 10 27", 100 * 0.45359237, "lb"),
    ("00 00 00", 0.0, "kg"),
]


@pytest.mark.parametrize(("packet", "kg", "unit"), MEASURED)
def test_measurements_are_read(packet: str, kg: float, unit: str) -> None:
    data = bytes.fromhex(packet)
    reading = decode_weight_measurement(data)
    assert isinstance(reading, WeightReading)
    assert reading.kg == pytest.approx(kg, rel=1e-12)
    assert (reading.unit, reading.stable) == (unit, None)
    (line,) = scale_decoder("gatt-weight").feed(b"2A9D:" + data.hex().encode() + b"\r\n")
    assert line == reading
    (found,) = scale_decoder().feed(b"2A9D:" + data.hex().encode() + b"\r\n")
    assert found == reading


@pytest.mark.parametrize("steps", [0, 1, 200, 12345, 0xFFFD])
@pytest.mark.parametrize("imperial", [0, 1])
def test_weights_agree_with_an_independent_decoder(steps: int, imperial: int) -> None:
    """bluetooth-sig, an independent decoder; not for 0xFFFF, which it takes for a weight."""
    from bluetooth_sig.gatt.characteristics import WeightMeasurementCharacteristic

    data = bytes([imperial]) + steps.to_bytes(2, "little")
    other = WeightMeasurementCharacteristic().parse_value(data)
    reading = decode_weight_measurement(data)
    assert isinstance(reading, WeightReading)
    assert reading.value is not None
    assert float(reading.value) == pytest.approx(other.weight, abs=1e-9)


@pytest.mark.parametrize(("packet", "value"), [("00 FE FF", "327.670"), ("01 FE FF", "655.34")])
def test_full_scale_is_an_overload_since_nothing_heavier_can_be_said(packet: str, value: str) -> None:
    reading = decode_weight_measurement(bytes.fromhex(packet))
    assert isinstance(reading, WeightReading)
    assert (reading.value, reading.condition) == (value, Condition.OVERLOAD)
    assert reading.kg == pytest.approx(FULL_SCALE_KG if reading.unit == "kg" else 297.26, abs=0.005)


@pytest.mark.parametrize(
    ("packet", "reason"),
    [
        ("00 FF FF", RejectReason.UNSUCCESSFUL),  # test of a public decoder [R]
        ("0E FF FF E9 07 0C 1F 17 3B 3A 02 D4 00 DB 06", RejectReason.UNSUCCESSFUL),
        ("00 10", RejectReason.WRONG_LENGTH),
        ("", RejectReason.WRONG_LENGTH),
    ],
)
def test_no_measurement_is_named(packet: str, reason: RejectReason) -> None:
    data = bytes.fromhex(packet)
    assert decode_weight_measurement(data) == Reject(reason, data)
    line = b"2A9D:" + data.hex().encode()
    assert scale_decoder("gatt-weight").feed(line + b"\r\n") == [Reject(reason, line)]


@pytest.mark.parametrize(
    ("line", "reason"), [(b"2A9E:00", RejectReason.WRONG_SHAPE), (b"2A9D:0x", RejectReason.BAD_BYTES)]
)
def test_lines_that_are_no_measurement_are_named(line: bytes, reason: RejectReason) -> None:
    assert scale_decoder("gatt-weight").feed(line + b"\r\n") == [Reject(reason, line)]


def test_serial_lines_over_gatt_are_bound_by_identifiers_of_one_family() -> None:
    for uart in UARTS:
        assert len({uart.service, uart.notify, uart.write}) == 3
        assert len({identifier[:8] for identifier in (uart.service, uart.notify, uart.write)}) in {1, 3}
