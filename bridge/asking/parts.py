"""What requests are made of: words, names, tags, and what every request may carry."""

import re
from typing import Annotated, ClassVar, TypeAlias

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from neckyoke.bridge.station.instructions import About
from neckyoke.protocols.readings import Reject
from neckyoke.protocols.tagcode import TagCode

NUMBER_MAX = 1_000_000_000
"""Largest of any number that a request may carry; what keeps and sends them ends at 2**63, or 2**53."""
TURNERS = dict.fromkeys([0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)])
"""Unseen marks that turn the direction of what stands behind them (Unicode Standard Annex 9, section 2): dropped."""


def plain(text: str) -> str:
    """Return a text without unseen marks.  Raises ValueError when it cannot be shown as it is."""
    if any(ord(sign) < 32 or 127 <= ord(sign) < 160 or sign in "\u2028\u2029" for sign in text):
        raise ValueError("control characters and line breaks are not allowed")
    plain = text.translate(TURNERS).strip()
    if text and not plain:
        raise ValueError("nothing in it can be read")
    return plain


def _tag(text: str) -> str:
    code = read_tag(text)
    if isinstance(code, str):
        raise ValueError(code)  # noqa: TRY004 -- pydantic wants ValueError; a str here is what is wrong
    return text


def read_tag(text: str) -> TagCode | str:
    """Read a tag number as a person types it: 15 digits, apart by spaces, hyphens, dots or underscores as they like.

    Gives the code, or what is wrong with it in words.
    """
    digits = re.sub(r"[ ._\-/]", "", text.strip())
    if not re.fullmatch(r"[0-9]{1,40}", digits):
        return f"a tag is 15 digits, such as 999 000000112233, not {text[:40]!r}"
    if len(digits) != 15:
        return f"a tag is 15 digits, such as 999 000000112233; {text[:40]!r} has {len(digits)}"
    code = TagCode.from_digits(digits)
    if isinstance(code, Reject):
        return f"no tag can hold {digits}: the last 12 digits go up to 274877906943"
    return code


TagText = Annotated[str, AfterValidator(_tag)]
Words = Annotated[str, StringConstraints(min_length=1, max_length=500, strip_whitespace=True), AfterValidator(plain)]
Short = Annotated[str, StringConstraints(min_length=1, max_length=64, strip_whitespace=True), AfterValidator(plain)]
Name = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_-]{0,31}$")]


Whole = Annotated[int, Field(ge=-NUMBER_MAX, le=NUMBER_MAX)]
Real = Annotated[float, Field(ge=-NUMBER_MAX, le=NUMBER_MAX, allow_inf_nan=False)]
Text = Annotated[str, StringConstraints(max_length=500), AfterValidator(plain)]
OneValue: TypeAlias = bool | Whole | Real | Text


class Base(BaseModel):
    """What every request may carry."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="forbid", frozen=True)

    id: Short | None = Field(default=None, description="comes back in the answer")
    station: Name | None = Field(default=None, description="which station; may be left out when there is only one")


class Animal(Base):
    """A request about one animal."""

    weighing: Short | None = Field(default=None, description="the weighing's id")
    number: int | None = Field(default=None, ge=1, le=NUMBER_MAX, description="the weighing's number at its station")
    job_number: int | None = Field(default=None, ge=1, le=NUMBER_MAX, description="its number in the job")
    job: Short | None = Field(default=None, description="by its turn or id; the open or the last one without")
    yes: bool | None = Field(default=None, description="the last animal is meant though it has left")

    @property
    def is_named(self) -> bool:
        """Whether it says which animal is meant."""
        return any(one is not None for one in (self.weighing, self.number, self.job_number))

    @property
    def about(self) -> About:
        """Which animal is meant."""
        return About(self.weighing, self.number)
