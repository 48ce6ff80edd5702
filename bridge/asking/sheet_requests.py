"""What can be asked of the shelf of job sheets: list them, open one, try it, save it, drop it.

    {"kind": "sheets"}
    {"kind": "sheet-save", "file": "sheets/weaning.toml", "was": "0f3a…", "form": {"title": "Weaning", …}}

A sheet is said as a `form`, its values by the sheet's own keys, or as `text`.  `was` is the digest that it had when it
was opened: one that was changed meanwhile is not overwritten.
"""

import base64
import binascii
from typing import Annotated, Any, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from neckyoke.bridge.asking.job_requests import CONTENT_MAX, FileName
from neckyoke.bridge.asking.parts import Base

Digest = Annotated[str, StringConstraints(pattern="^[0-9a-f]{12}$")]
ROSTER_MAX = 1 << 20
"""Bytes of a roster."""


class SheetsRequest(Base):
    """List the job sheets, by title, mob and when they were last used; and what was typed in them."""

    kind: Literal["sheets"] = "sheets"


class OpenSheet(Base):
    """Give one sheet as a form, with its digest."""

    kind: Literal["sheet-open"] = "sheet-open"
    file: FileName


class TrySheet(Base):
    """Check a sheet, and say what it would do; nothing is written."""

    kind: Literal["sheet-try"] = "sheet-try"
    file: FileName | None = Field(default=None, description="which sheet it changes; a new one without")
    was: Digest | None = Field(default=None, description="the digest that the sheet had when it was opened")
    form: dict[str, Any] | None = Field(default=None, description="its values, by the sheet's own keys")
    text: Annotated[str, StringConstraints(min_length=1, max_length=CONTENT_MAX)] | None = None
    roster: Annotated[str, StringConstraints(max_length=CONTENT_MAX)] | None = Field(
        default=None, description="the content of another roster, in base64; without one, what it had stays"
    )
    roster_name: FileName | None = Field(default=None, description="whose ending says how to read it")
    copy_of: FileName | None = Field(default=None, description="a sheet that a new one begins as: its text and roster")

    @model_validator(mode="after")
    def _readable(self) -> Self:
        if (self.form is None) == (self.text is None):
            raise ValueError("say the sheet as form or as text, one of the two")
        if self.roster is not None and self.roster_name is None:
            raise ValueError("a roster goes with its roster_name")
        if self.copy_of is not None and (self.file is not None or self.text is not None):
            raise ValueError("copy_of goes with the form of a new sheet")
        if (self.file is None) != (self.was is None):
            raise ValueError("file goes with was, the digest that it had when it was opened")
        try:
            content = self.roster_bytes()
        except (ValueError, binascii.Error):
            raise ValueError("roster is base64") from None
        if content is not None and len(content) > ROSTER_MAX:
            raise ValueError(f"a roster has at most {ROSTER_MAX >> 20} MiB")
        return self

    def roster_bytes(self) -> bytes | None:
        """Return the content of the roster that comes with it."""
        return None if self.roster is None else base64.b64decode(self.roster, validate=True)


class SaveSheet(TrySheet):
    """Check a sheet and write it into the box's own folder, or in place of what was opened."""

    kind: Literal["sheet-save"] = "sheet-save"  # type: ignore[assignment]


class DropSheet(Base):
    """Take a sheet of the box's own off the list; what a job began with stays known."""

    kind: Literal["sheet-drop"] = "sheet-drop"
    file: FileName
    was: Digest


ShelfRequest = SheetsRequest | OpenSheet | TrySheet | SaveSheet | DropSheet
SHELF_REQUESTS = (SheetsRequest, OpenSheet, TrySheet, SaveSheet, DropSheet)
BULKY = frozenset({"sheet", "begin", "sheet-try", "sheet-save"})
"""Kinds that may bring a whole sheet and its roster."""
