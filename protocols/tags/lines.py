"""What tag readers print, one line a tag -> TagRead.

    999000000112233               15 digits
    999 000000112233              country, separator, national number (whose digits may stand in groups)
    8000F9C00001B669              16 hexadecimal digits, in value order or in air order (`hex_order`)
    3E7000001B669                 country as 3, national number as 10 hexadecimal digits
    1 0 00 00 0 999 000000112233  all fields: animal, retag, user, reserved, data block, country, national; also glued
    0 00 000 999 000000112233     the same without the flags: retag, user, additional information, country, national
    00110010…                     a whole telegram, as 128 or 112 bits, or as 32 or 28 hexadecimal digits

Around the code there may be a word (`LA`, `ID=`, `R1:`), a time stamp, and `*` with two hexadecimal digits of XOR
check.  Every other length is WRONG_LENGTH: a code is never filled up or cut.  All of these but the 15 digits, 3 + 12
and the 16 hexadecimal digits are common practice, no source; the field widths follow from ISO 11784.

Some spellings overlap, and are told apart thus:

* Sixteen decimal digits are hexadecimal where the order is set to air, for then the reader is known to spell so.
  Otherwise only when they make an ordinary animal's code (no reserved bit, retagging or user field, a known country);
  if they do not, they are one digit too many.
* One letter A to F before 15 digits is a prefix, unless the hexadecimal code is possible and the decimal is not; where
  both are, the line is rejected.
* A first line whose start was not seen may be the end of a longer one (`whole=False`).  Then 3 + 10 digits are not
  believed, nor are 15 where they may be the end of 16, and 22 where they may be that of 23.  It may also be the end of
  a module frame whose check byte looks like the end of a line: its last 16 digits make no animal's code that was never
  retagged and has no user field, its last 15 a national number that is flags and noughts.
"""

import re
from typing import Final

from neckyoke.protocols.checksums import xor
from neckyoke.protocols.readings import Reject, RejectReason, TagRead
from neckyoke.protocols.scale.status import is_printable
from neckyoke.protocols.tagcode import COUNTRY_MAX, NATIONAL_MAX, HexOrder, Remark, TagCode
from neckyoke.protocols.tags.module_frame import decode_module
from neckyoke.protocols.tags.telegram import (
    FDXB_BITS,
    HDX_BITS,
    decode_fdxb,
    decode_fdxb_hex,
    decode_hdx,
    decode_hdx_hex,
)

_CLOCK: Final = r"[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:[.,][0-9]{1,6})?)?(?:Z|[+-][0-9]{2}:?[0-9]{2})?"
_DATE: Final = r"(?:[0-9]{4}[-/.][0-9]{2}[-/.][0-9]{2}|[0-9]{2}[-/.][0-9]{2}[-/.](?:[0-9]{4}|[0-9]{2}))"
_STAMP: Final = rf"(?:{_DATE}(?:[T ,;]+{_CLOCK})?|{_CLOCK}(?:[ ,;]+{_DATE})?)"
_BEFORE: Final = re.compile(rf"(?:{_STAMP}[ ,;]+)?(?:[A-Za-z][A-Za-z0-9_]{{0,11}}[ ,;:=#]+)?(?:{_STAMP}[ ,;]+)?")
_AFTER: Final = re.compile(rf"[ ,;]+{_STAMP}$")
_CHECK: Final = re.compile(r"(.*)\*([0-9A-Fa-f]{2})")

_FIFTEEN: Final = re.compile(r"[A-Za-z]{0,8}([0-9]{3}(?:[0-9]*|[ ._/-][0-9]+(?:[ ._-][0-9]+)*))")
_HEX: Final = re.compile(r"[0-9A-Fa-f]+")
_FIELDS: Final = re.compile(
    r"([01]) ?([0-7]) ?([0-9]{2}) ?([0-9]{2}) ?([01]) ?(0?[0-9]{3}|10[0-9]{2}) ?([0-9]{12})",
)
_SHORT_FIELDS: Final = re.compile(r"([0-7]) ([0-9]{2}) ([0-9]{3}) ([0-9]{3}) ([0-9]{12})")
_THREE_TEN: Final = re.compile(r"([0-9A-Fa-f]{3}) ?([0-9A-Fa-f]{10})")
_SEPARATORS: Final = re.compile(r"[ ._/-]")
_BITS: Final = re.compile(r"[01]+")
_TELEGRAMS: Final = {  # (length, spelled bits?) -> decoder
    (FDXB_BITS, True): decode_fdxb,
    (HDX_BITS, True): decode_hdx,
    (FDXB_BITS // 4, False): decode_fdxb_hex,
    (HDX_BITS // 4, False): decode_hdx_hex,
}
_FINE: Final = frozenset({Remark.TEST_CODE, Remark.DATA_BLOCK})
_FLAGS_ONLY: Final = 10**10
"""A national number's digits behind the first two: ten noughts end most module frames."""


def decode_tag_line(frame: bytes, order: HexOrder = "value", *, whole: bool = True) -> TagRead | Reject:
    """Read one line of a reader.  `order` says how 16 hexadecimal digits are meant, `whole` that its start was seen."""
    if (read := decode_module(frame)) is not None:
        return read
    line = frame.strip(b"\x02\x03 \t\r\n")
    if not is_printable(line):
        return Reject.of(RejectReason.BAD_BYTES, frame)
    found = _read(line.decode("ascii"), order, whole=whole)
    if isinstance(found, TagCode):
        return TagRead(found)
    return Reject.of(found, frame)


def _read(text: str, order: HexOrder, *, whole: bool) -> TagCode | RejectReason:
    """Take off what stands around the code, and read the code by its shape."""
    if match := _CHECK.fullmatch(text):
        text = match[1]
        if xor(text.encode("ascii")) != int(match[2], 16):
            return RejectReason.BAD_CHECKSUM
    text = _AFTER.sub("", text)
    core = text[_before(text) :].strip()
    found = _telegram(core) or _fields(core) or _sixteen(core, order) or _three_and_ten(core) or _fifteen(core)
    if not whole and isinstance(found, TagCode) and _may_be_cut(core, found, order):
        return RejectReason.CUT
    found = found or _why_not(core)
    return found if isinstance(found, RejectReason) or found.country or found.national else RejectReason.UNSUCCESSFUL


def _may_be_cut(text: str, code: TagCode, order: HexOrder) -> bool:
    """Return whether a code read from a line whose start was not seen may be the end of a longer spelling."""
    return (
        len(text) in {13, 22}
        or (len(text) == 15 and (order == "air" or code.country == 0))
        or (len(text) == 16 and (not code.animal or code.retag + code.user + code.reserved > 0))
        or code.national % _FLAGS_ONLY == 0
    )


def _before(text: str) -> int:
    """Find where the code begins, behind a time stamp and a word."""
    match = _BEFORE.match(text)
    return match.end() if match else 0


def _telegram(text: str) -> TagCode | RejectReason | None:
    """Read a whole telegram: as spelled bits, or as hexadecimal digits."""
    decode = _TELEGRAMS.get((len(text), _BITS.fullmatch(text) is not None))
    if decode is None or not _HEX.fullmatch(text):
        return None
    read = decode(text)
    return read.reason if isinstance(read, Reject) else read.code


def _fields(text: str) -> TagCode | RejectReason | None:
    """Read the long decimal forms."""
    if match := _FIELDS.fullmatch(text):
        animal, retag, user, reserved, block, country, national = (int(part) for part in match.groups())
    elif match := _SHORT_FIELDS.fullmatch(text):
        animal, block = 1, 0
        retag, user, reserved, country, national = (int(part) for part in match.groups())
    else:
        return None
    if user > 31 or reserved > 63 or country > COUNTRY_MAX or national > NATIONAL_MAX:
        return RejectReason.OUT_OF_RANGE
    return TagCode(country, national, bool(animal), retag, user, reserved, bool(block))


def _sixteen(text: str, order: HexOrder) -> TagCode | RejectReason | None:
    """Read 16 hexadecimal digits; None when the text is none, or decimal rather than hexadecimal."""
    compact = text.replace(" ", "")
    code = TagCode.from_hex(compact, order)
    if isinstance(code, Reject):
        return None
    if compact.isdecimal():
        return code if order == "air" or _is_ordinary(code) else None
    if order == "value" and compact[1:].isdecimal() and not compact[0].isdecimal():
        prefixed = TagCode.from_digits(compact[1:])
        if isinstance(prefixed, TagCode) and not set(prefixed.remarks()) - _FINE:
            return RejectReason.WRONG_SHAPE if not set(code.remarks()) - _FINE else None
    return code


def _three_and_ten(text: str) -> TagCode | RejectReason | None:
    """Read country and national number as 3 + 10 hexadecimal digits.  All decimal, they may be a cut code: None."""
    match = _THREE_TEN.fullmatch(text)
    if match is None or (match[1] + match[2]).isdecimal():
        return None
    country, national = int(match[1], 16), int(match[2], 16)
    if country > COUNTRY_MAX or national > NATIONAL_MAX:
        return RejectReason.OUT_OF_RANGE
    return TagCode(country, national)


def _fifteen(text: str) -> TagCode | RejectReason | None:
    """Read 15 digits, or 3 + 12."""
    match = _FIFTEEN.fullmatch(text)
    if match is None:
        return None
    code = TagCode.from_digits(_SEPARATORS.sub("", match[1]))
    return code.reason if isinstance(code, Reject) else code


def _is_ordinary(code: TagCode) -> bool:
    return code.animal and not (code.retag or code.user) and not set(code.remarks()) - _FINE


def _why_not(text: str) -> RejectReason:
    if not any(character.isdecimal() for character in text):
        return RejectReason.NO_NUMBER
    return RejectReason.WRONG_LENGTH if _HEX.fullmatch(_SEPARATORS.sub("", text)) else RejectReason.WRONG_SHAPE
