"""What can be asked of a station's jobs, and that something asked be taken back."""

import base64
import binascii
from datetime import date
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, ConfigDict, Field, StringConstraints, model_validator

from neckyoke.bridge.asking.parts import NUMBER_MAX, Base, Short, plain

FileName = Annotated[str, StringConstraints(min_length=1, max_length=255), AfterValidator(plain)]
CONTENT_MAX = 1_400_000
"""Signs of a sheet's text, or of its roster in base64: of one MiB and a little."""


class WithSheet(Base):
    """A request that may name a sheet: by a file beside the configuration, or by its whole content."""

    file: FileName | None = Field(default=None, description="a file beside the configuration; with text, its name only")
    text: Annotated[str, StringConstraints(min_length=1, max_length=CONTENT_MAX)] | None = Field(
        default=None, description="the sheet's content"
    )
    roster: Annotated[str, StringConstraints(max_length=CONTENT_MAX)] | None = Field(
        default=None, description="the content of its roster, in base64"
    )
    roster_name: FileName | None = Field(default=None, description="whose ending says how to read it")
    digest: Annotated[str, StringConstraints(pattern="^[0-9a-f]{12,64}$")] | None = Field(
        default=None, description="the sheet's SHA-256 in hexadecimal, 12 digits at least: one half written is refused"
    )

    @model_validator(mode="after")
    def _readable(self) -> Self:
        if self.roster is not None and self.text is None:
            raise ValueError("a roster goes with the text of its sheet")
        try:
            self.roster_bytes()
        except (ValueError, binascii.Error):
            raise ValueError("roster is base64") from None
        return self

    @property
    def unproven(self) -> bool:
        """Whether a sheet is named whose digest is not given: it might be half written, and still read well."""
        return self.digest is None and (self.file is not None or self.text is not None)

    def roster_bytes(self) -> bytes | None:
        """Return the roster's content."""
        return None if self.roster is None else base64.b64decode(self.roster, validate=True)


class SheetRequest(WithSheet):
    """Let a job sheet hold from the next animal on; without one, read the present one again."""

    kind: Literal["sheet"] = "sheet"


class BatchRequest(Base):
    """Use another batch, or another product, of one of the sheet's treatments from the next animal on."""

    kind: Literal["batch"] = "batch"
    treatment: Short
    batch: Short | None = None
    expires: date | None = Field(default=None, description="the last day on which the batch may be used")
    product: Short | None = Field(default=None, description="the treatment's new name")

    @model_validator(mode="after")
    def _something(self) -> Self:
        if self.batch is None and self.product is None:
            raise ValueError("say what is used from now on: give batch or product")
        return self


class BeginRequest(WithSheet):
    """Begin a job, under the sheet that is named here, or the one that was named last; `bare`: under none."""

    kind: Literal["begin"] = "begin"
    bare: bool = False

    @model_validator(mode="after")
    def _one(self) -> Self:
        if self.bare and (self.file or self.text):
            raise ValueError("a bare job has no sheet: leave out file and text, or bare")
        return self


class PauseRequest(Base):
    """Count nothing from now on: a person on the platform is no animal."""

    kind: Literal["pause"] = "pause"
    why: Short | None = Field(default=None, description="such as: a person on the platform")


class ResumeRequest(Base):
    """Go on with the paused job, or open one that has ended again; it takes in the stays since."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
    kind: Literal["resume"] = "resume"
    job: Short | None = Field(default=None, description="its turn or id; the paused or last one without")
    first: int | None = Field(
        default=None, alias="from", ge=1, le=NUMBER_MAX, description="count in all from this station number on"
    )


class EndRequest(Base):
    """End the open job."""

    kind: Literal["end"] = "end"


class UndoRequest(Base):
    """Take back what was asked: by the `asked` of its answer."""

    kind: Literal["undo"] = "undo"
    asked: Short | None = Field(default=None, description="what was asked last, without")


JobRequest = SheetRequest | BatchRequest | BeginRequest | PauseRequest | ResumeRequest | EndRequest
JOB_REQUESTS = (SheetRequest, BatchRequest, BeginRequest, PauseRequest, ResumeRequest, EndRequest)
