"""Tags as spreadsheets spell them: mended where nothing is lost, refused where something is.

A spreadsheet that takes a tag for a number keeps 15 significant digits (Microsoft's "Excel specifications and limits":
number precision), so that the 15 digits of a tag survive as a number; what is lost is lost when it is shown: cut to
9.99E+14, or without the zero that country codes below 100 begin with (ISO 3166-1 numeric).
"""

import re
from collections.abc import Iterable

from neckyoke.bridge.job.roster.cell_error import CellError
from neckyoke.protocols.countries import COUNTRIES
from neckyoke.protocols.tagcode import NATIONAL_MAX

LENGTH = 15
AS_TEXT = "Format the column as text and fill it in again."
SHOWN_AS_NUMBER = re.compile(r"([0-9])(?:[.,]([0-9]+))?E\+?([0-9]+)", re.IGNORECASE)
WITH_THOUSANDS = re.compile(r"[0-9]{1,3}(?:([,.' \u00a0\u202f])[0-9]{3})(?:\1[0-9]{3})+")
ZERO_DECIMALS = re.compile(r"([0-9]+)[.,]0{1,3}")


def digits(text: str) -> str:
    """Drop what people and programs put between or around the digits of a tag."""
    return re.sub(r"[\s._'\"=/\-\u00a0\u202f]", "", text)


def bare(text: str) -> str:
    """Return the digits that a cell's text stands for, as far as nothing is lost.  Raises CellError where it is."""
    text = text.strip()
    if shown := SHOWN_AS_NUMBER.fullmatch(text):
        whole = f"{shown[1]}{shown[2] or ''}"
        if len(whole) != int(shown[3]) + 1:
            raise CellError(f"{text!r} has lost digits", f"A spreadsheet cut it to a number.  {AS_TEXT}", "lost digits")
        return whole
    if number := ZERO_DECIMALS.fullmatch(text):
        return number[1]
    if WITH_THOUSANDS.fullmatch(text):
        return re.sub(r"[^0-9]", "", text)
    found = digits(text)
    if not re.fullmatch(r"[0-9]+", found):
        hint = "A tag is 15 digits, such as 999000000112233."
        raise CellError(f"{text!r} is no tag number", hint, "no tag number")
    return found


class Tags:
    """Reads the tags of one column.  `texts` are its cells: only together do they tell whether a zero is gone."""

    def __init__(self, texts: Iterable[str] = ()) -> None:
        short = {found for text in texts if len(found := _bare_or_nothing(text)) == LENGTH - 1}
        begins = {one[:2] for one in short}
        self._zero_gone = len(short) > 1 and len(begins) == 1 and int(next(iter(begins))) in COUNTRIES

    def read(self, text: str) -> str:
        """Read a tag's 15 digits (16 for a code above 999), however they are spaced."""
        found = bare(text)
        if len(found) == LENGTH - 1 and self._zero_gone:
            found = f"0{found}"
        if len(found) not in {LENGTH, LENGTH + 1}:
            hint = f"A zero in front, or a digit, may have been lost.  {AS_TEXT}"
            raise CellError(f"{text!r} has {len(found)} digits, not {LENGTH}", hint, "not 15 digits")
        if int(found[-12:]) > NATIONAL_MAX:
            hint = "Look at the last twelve digits."
            raise CellError(f"{text!r} is larger than any tag can hold", hint, "larger than any tag")
        return found

    def several(self, text: str) -> tuple[str, ...]:
        """Read several tags, parted by commas, semicolons, bars or line breaks."""
        return tuple(self.read(one) for one in re.split(r"[,;|\n]+", text) if one.strip())


def _bare_or_nothing(text: str) -> str:
    try:
        return bare(text)
    except CellError:
        return ""
