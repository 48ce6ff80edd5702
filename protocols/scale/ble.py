"""Bluetooth LE: the SIG weight scale service, and the identifiers of UART over GATT.

Weight Measurement (0x2A9D, indicated by service 0x181D), as public documentation quotes the SIG's text:

    offset  bytes
    0       1      flags: bit 0 imperial, 1 time stamp, 2 user id, 3 BMI and height
    1       2      weight, lowest byte first: 0.005 kg or 0.01 lb each; 0xFFFF says that the measurement failed
    then    7      time stamp: year (2), month, day, hour, minute, second; no zone
            1      user id, 0xFF unknown
            2 + 2  body mass index in 0.1 kg/m2, height in 0.001 m or 0.1 inch

The weight has 16 bits, so this service ends at `FULL_SCALE_KG` (or 655.34 lb = 297.26 kg): grown cattle do not fit.  A
reading at full scale is therefore called an overload.  The service says nothing of stability.
"""

from dataclasses import dataclass
from typing import Final

from neckyoke.protocols.readings import Condition, Reject, RejectReason, WeightReading
from neckyoke.protocols.scale.status import Said, make_reading

SERVICE_WEIGHT_SCALE: Final = "0000181d-0000-1000-8000-00805f9b34fb"
WEIGHT_MEASUREMENT: Final = "00002a9d-0000-1000-8000-00805f9b34fb"

LAYOUT: Final = "gatt-weight"
"""The layout's name in the configuration."""
LINE: Final = b"2A9D:"
"""How a line begins that a Bluetooth link makes of a measurement, so that captures can be read by people."""

FULL_SCALE_KG: Final = 327.67
"""The most that the weight scale service can say (0xFFFE steps of 0.005 kg)."""

_FAILED: Final = 0xFFFF
_FULL: Final = 0xFFFE
_IMPERIAL: Final = 1


@dataclass(frozen=True, slots=True)
class Uart:
    """A serial line over GATT: its service, where the device speaks (notify) and where it listens (write).

    Bound by identifier and property, never by name: what one maker calls TX another calls RX.
    """

    service: str
    notify: str
    write: str


UARTS: Final = (
    Uart(  # identifiers read; which of the two speaks is from memory
        "6e400001-b5a3-f393-e0a9-e50e24dcca9e",
        notify="6e400003-b5a3-f393-e0a9-e50e24dcca9e",
        write="6e400002-b5a3-f393-e0a9-e50e24dcca9e",
    ),
    Uart(  # read in the maker's application manual
        "49535343-fe7d-4ae5-8fa9-9fafd205e455",
        notify="49535343-1e4d-4bd9-ba61-23c647249616",
        write="49535343-8841-43f4-a8d4-ecbe34729bb3",
    ),
)
"""Serial lines over GATT in common use, both of general radio chips."""


def decode_weight_measurement(data: bytes) -> WeightReading | Reject:
    """Read one Weight Measurement.  A cut time stamp, user or height does no harm: only the weight is used."""
    if len(data) < 3:
        return Reject.of(RejectReason.WRONG_LENGTH, data)
    steps = int.from_bytes(data[1:3], "little")
    if steps == _FAILED:
        return Reject.of(RejectReason.UNSUCCESSFUL, data)
    said = Said(condition=Condition.OVERLOAD if steps == _FULL else Condition.OK)
    if data[0] & _IMPERIAL:
        return make_reading(steps / 100, f"{steps / 100:.2f}", "lb", said, data)
    return make_reading(steps / 200, f"{steps / 200:.3f}", "kg", said, data)


def decode_weight_line(frame: bytes, _unit: str | None = None) -> WeightReading | Reject:
    """Read a Weight Measurement as a Bluetooth link spells it: `2A9D:` and its bytes in hexadecimal digits."""
    if not frame.startswith(LINE):
        return Reject.of(RejectReason.WRONG_SHAPE, frame)
    try:
        packet = bytes.fromhex(frame[len(LINE) :].decode("ascii"))
    except ValueError:
        return Reject.of(RejectReason.BAD_BYTES, frame)
    outcome = decode_weight_measurement(packet)
    return Reject.of(outcome.reason, frame) if isinstance(outcome, Reject) else outcome
