"""Frames spelled the other way round: from what a device shows to the bytes it sends.

Written from the shapes' descriptions (see `protocols.scale.builtin`), not from the decoders, so that a shared mistake
cannot hide: numbers are integers of tenths, and every check is computed here with plain loops.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Shown:
    """What an indicator shows.  `tenths` is the weight in tenths of the unit."""

    tenths: int
    stable: bool = True
    unit: str = "kg"
    mode: str = "gross"
    zero: bool = False

    @property
    def minus(self) -> str:
        return "-" if self.tenths < 0 else ""

    @property
    def sign(self) -> str:
        return "-" if self.tenths < 0 else "+"

    @property
    def number(self) -> str:
        whole, tenth = divmod(abs(self.tenths), 10)
        return f"{whole}.{tenth}"

    def padded(self, width: int, fill: str = "0") -> str:
        return self.number.rjust(width, fill)


def sign_weight_status(shown: Shown) -> bytes:
    letter = "M" if not shown.stable else {"gross": "G", "net": "N"}[shown.mode]
    return f"\x02{shown.minus or ' '}{shown.padded(7, ' ')}{letter}\x03".encode()


def sign_weight_flags(shown: Shown) -> bytes:
    kind = {"gross": "G", "net": "N"}[shown.mode]
    flags = kind + (" " if shown.stable else "M") + ("Z" if shown.zero else " ") + "-"
    unit = f"{shown.unit:<3}" if shown.stable else "   "
    return f"\x02{shown.minus or ' '}{shown.padded(7, ' ')}{flags}{unit}\x03".encode()


def status_mode_weight(shown: Shown) -> bytes:
    status = "ST" if shown.stable else "US"
    mode = {"gross": "GS", "net": "NT"}[shown.mode]
    return f"{status},{mode},{shown.sign}{shown.padded(7)}{shown.unit}\r\n".encode()


def weight_unit_mark(shown: Shown) -> bytes:
    mark = " " if shown.stable else "?"
    return f"{(shown.minus + shown.number).rjust(9)} {shown.unit} {mark}\r\n".encode()


def weight_nibbles(shown: Shown) -> bytes:
    bits = (0x0001 if not shown.stable else 0) | (0x0010 if shown.zero else 0)
    return f"{shown.sign}{shown.padded(7)} {shown.unit} {bits:04X}\r\n".encode()


def status_weight(shown: Shown) -> bytes:
    return f"{'S' if shown.stable else 'D'} {shown.minus or ' '}{shown.padded(7, ' ')} {shown.unit}\r\n".encode()


def weight_unit_letter(shown: Shown) -> bytes:
    letter = "M" if not shown.stable else {"gross": "G", "net": "N"}[shown.mode]
    return f"{(shown.minus + shown.number).rjust(8)} {shown.unit} {letter}\r\n".encode()


def weight_unit(shown: Shown) -> bytes:
    return f"{(shown.minus + shown.number).rjust(8)} {shown.unit}\r\n".encode()


def weight(shown: Shown) -> bytes:
    return f"{shown.sign}{shown.padded(6)}\r\n".encode()


TARE_TENTHS = 105


def gross_tare_net(shown: Shown) -> bytes:
    tare = Shown(TARE_TENTHS)
    net = Shown(shown.tenths - TARE_TENTHS)
    parts = [
        f"{name}{part.sign}{part.padded(7)}{shown.unit}" for name, part in zip("GTN", (shown, tare, net), strict=True)
    ]
    return (",".join(parts) + "\r\n").encode()


def print_block(shown: Shown) -> bytes:
    net = Shown(shown.tenths - TARE_TENTHS)
    lines = [
        f"GROSS {(shown.minus + shown.number).rjust(9)} {shown.unit}",
        f"TARE  {Shown(TARE_TENTHS).number.rjust(9)} {shown.unit}",
        f"NET   {(net.minus + net.number).rjust(9)} {shown.unit}",
        "",
        "",
    ]
    return "\r\n".join(lines).encode()


def _starred(body: str, check: str) -> bytes:
    return f"{body}*{check}\r\n".encode()


def weight_xor(shown: Shown) -> bytes:
    body = f"{shown.sign}{shown.padded(7)}{shown.unit}"
    check = 0
    for character in body:
        check ^= ord(character)
    return _starred(body, f"{check:02X}")


def weight_sum(shown: Shown) -> bytes:
    body = f"{shown.sign}{shown.padded(7)}{shown.unit}"
    return _starred(body, f"{sum(map(ord, body)) % 256:02X}")


def weight_crc(shown: Shown) -> bytes:
    body = f"{shown.sign}{shown.padded(7)}{shown.unit}"
    return _starred(body, f"{crc_kermit(body.encode()):04X}")


def crc_kermit(data: bytes) -> int:
    """CRC-16/KERMIT bit by bit, as its definition reads."""
    register = 0
    for byte in data:
        for bit in range(8):
            mix = (register ^ byte >> bit) & 1
            register >>= 1
            if mix:
                register ^= 0x8408
    return register


SCALES: dict[str, Callable[[Shown], bytes]] = {
    "sign-weight-status": sign_weight_status,
    "sign-weight-flags": sign_weight_flags,
    "status-mode-weight": status_mode_weight,
    "weight-unit-mark": weight_unit_mark,
    "weight-nibbles": weight_nibbles,
    "status-weight": status_weight,
    "weight-unit-letter": weight_unit_letter,
    "weight-unit": weight_unit,
    "weight": weight,
    "gross-tare-net": gross_tare_net,
    "print-block": print_block,
    "weight-xor": weight_xor,
    "weight-sum": weight_sum,
    "weight-crc": weight_crc,
}

SAYS_STABLE = {
    "sign-weight-status": "moving only",
    "sign-weight-flags": "both",
    "status-mode-weight": "both",
    "weight-unit-mark": "both",
    "status-weight": "both",
    "weight-unit-letter": "moving only",
}
"""What a shape says of stability; those not named say nothing."""

SAYS_MODE = frozenset({"sign-weight-status", "sign-weight-flags", "status-mode-weight", "weight-unit-letter"})


@dataclass(frozen=True)
class Code:
    """A tag's fields, spelled from scratch."""

    country: int
    national: int
    animal: int = 1
    retag: int = 0
    user: int = 0
    reserved: int = 0
    block: int = 0

    @property
    def fields(self) -> dict[str, Any]:
        return {
            "country": self.country,
            "national": self.national,
            "animal": bool(self.animal),
            "retag": self.retag,
            "user": self.user,
            "reserved": self.reserved,
            "data_block": bool(self.block),
        }

    @property
    def bits(self) -> str:
        """The 64 bits, first on air first."""
        highest_first = (
            f"{self.animal:01b}{self.retag:03b}{self.user:05b}{self.reserved:06b}{self.block:01b}"
            f"{self.country:010b}{self.national:038b}"
        )
        return highest_first[::-1]

    @property
    def digits(self) -> str:
        return f"{self.country:03}{self.national:012}"

    @property
    def plain(self) -> "Code":
        """What the short spellings can say of it."""
        return Code(self.country, self.national)


def value_hex(code: Code) -> str:
    return f"{int(code.bits[::-1], 2):016X}"


def air_hex(code: Code) -> str:
    return f"{int(code.bits, 2):016X}"


def _crc_bits(code: Code) -> str:
    octets = [int(code.bits[at : at + 8][::-1], 2) for at in range(0, 64, 8)]
    return f"{crc_kermit(bytes(octets)):016b}"[::-1]


def fdxb(code: Code, extension: int = 0) -> str:
    body = code.bits + _crc_bits(code) + f"{extension:024b}"[::-1]
    return "00000000001" + "".join(body[at : at + 8] + "1" for at in range(0, len(body), 8))


def hdx(code: Code) -> str:
    return "01111110" + code.bits + _crc_bits(code) + "0" * 24


def module_frame(code: Code) -> bytes:
    digits = (
        f"{code.national:010X}"[::-1] + f"{code.country:04X}"[::-1] + f"{code.block}{code.animal}" + "0000" + "000000"
    )
    check = 0
    for character in digits:
        check ^= ord(character)
    return b"\x02" + digits.encode() + bytes([check, check ^ 0xFF]) + b"\x03"


def to_hex(bits: str) -> str:
    return "".join(f"{int(bits[at : at + 4], 2):X}" for at in range(0, len(bits), 4))


def _long(code: Code, gap: str, country_width: int = 3) -> str:
    parts = [
        f"{code.animal}", f"{code.retag}", f"{code.user:02}", f"{code.reserved:02}", f"{code.block}",
        f"{code.country:0{country_width}}", f"{code.national:012}",
    ]  # fmt: skip
    return gap.join(parts)


TAGS_WHOLE: dict[str, Callable[[Code], bytes]] = {
    "hex-value": lambda code: value_hex(code).encode() + b"\r\n",
    "hex-lower": lambda code: value_hex(code).lower().encode() + b"\r\n",
    "fields-spaced": lambda code: _long(code, " ").encode() + b"\r\n",
    "fields-22": lambda code: _long(code, "").encode() + b"\r\n",
    "fields-23": lambda code: _long(code, "", 4).encode() + b"\r\n",
    "fdxb-bits": lambda code: fdxb(code).encode() + b"\r\n",
    "fdxb-hex": lambda code: to_hex(fdxb(code)).encode() + b"\r\n",
    "hdx-bits": lambda code: hdx(code).encode() + b"\r\n",
    "hdx-hex": lambda code: to_hex(hdx(code)).encode() + b"\r\n",
}
"""Spellings that say every field of a code."""

TAGS_SHORT: dict[str, Callable[[Code], bytes]] = {
    "fifteen": lambda code: f"{code.digits}\r\n".encode(),
    "fifteen-cr": lambda code: f"{code.digits}\r".encode(),
    "fifteen-lf": lambda code: f"{code.digits}\n".encode(),
    "fifteen-lfcr": lambda code: f"{code.digits}\n\r".encode(),
    "fifteen-stx-etx": lambda code: f"\x02{code.digits}\x03".encode(),
    "fifteen-stx-line": lambda code: f"\x02{code.digits}\r\n".encode(),
    "three-twelve": lambda code: f"{code.digits[:3]} {code.digits[3:]}\r\n".encode(),
    "three-dash-twelve": lambda code: f"{code.digits[:3]}-{code.digits[3:]}\r\n".encode(),
    "three-fours": lambda code: (
        f"{code.digits[:3]} {code.digits[3:7]} {code.digits[7:11]} {code.digits[11:]}\r\n".encode()
    ),
    "prefix": lambda code: f"LA {code.digits[:3]} {code.digits[3:]}\r\n".encode(),
    "prefix-glued": lambda code: f"LA{code.digits}\r\n".encode(),
    "prefix-equals": lambda code: f"ID={code.digits}\r\n".encode(),
    "stamped-before": lambda code: f"2026-11-24 02:11:09 {code.digits}\r\n".encode(),
    "stamped-behind": lambda code: f"{code.digits[:3]} {code.digits[3:]},24/11/2026,02:11:09\r\n".encode(),
    "short-fields": lambda code: f"0 00 000 {code.digits[:3]} {code.digits[3:]}\r\n".encode(),
    "module": module_frame,
}
"""Spellings that say country and national number, of an animal's tag."""
