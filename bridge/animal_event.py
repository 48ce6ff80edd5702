"""What is published of an animal: all that is known of it, whenever any of that changes.

Each event says the whole, so that whoever has an animal's highest revision has the animal, and older ones may be
forgotten.  An animal merged into another is a pointer to it (`merged_into`): nothing of either is lost, and a split
takes the pointer away again.
"""

from typing import Any, Literal, TypeAlias

from pydantic import Field

from neckyoke.bridge.event_base import Model, Time

Change: TypeAlias = Literal["known", "retagged", "named", "filled", "marked", "unmarked", "merged", "split", "undone"]


class WornTag(Model):
    """A tag that an animal wears, or wore until a moment."""

    id: str = Field(pattern=r"^[0-9]{15,16}$")
    since: Time | None = Field(default=None, description="null when nobody knows")
    until: Time | None = Field(default=None, description="null while it is worn")


class Mark(Model):
    """Something to look out for on one animal.  Dates are the farm's, both included."""

    text: str
    begins: str | None = Field(default=None, description="YYYY-MM-DD; null: at once")
    until: str | None = Field(default=None, description="YYYY-MM-DD; null: until it is taken off")

    def holds(self, day: str) -> bool:
        """Return whether it holds on a day, spelled YYYY-MM-DD."""
        return (self.begins is None or self.begins <= day) and (self.until is None or day <= self.until)


class Animal(Model):
    """One animal as the herd book knows it.  Key on `animal`; the highest `revision` is the truth."""

    animal: str
    revision: int = 1
    change: Change = "known"
    why: str | None = None
    tags: tuple[WornTag, ...] = Field(default=(), description="in the order in which it got them")
    visuals: tuple[str, ...] = Field(default=(), description="visual numbers; the last is the one it has")
    roster_id: str | None = Field(default=None, description="the person's own id for it")
    born: str | None = Field(default=None, description="YYYY-MM-DD")
    sex: str | None = None
    dam: str | None = None
    lasting: dict[str, Any] = Field(default_factory=dict, description="what else stays with it, such as breed")
    assumed: tuple[str, ...] = Field(default=(), description="which of these only a job sheet said, of a whole mob")
    mob: str | None = Field(default=None, description="the mob under whose sheet it was first weighed")
    marks: tuple[Mark, ...] = ()
    withheld_until: str | None = Field(default=None, description="from a roster; doses given here come beside it")
    first: str | None = Field(default=None, description="the weighing by which it became known")
    merged_into: str | None = Field(default=None, description="the animal that this one turned out to be")

    @property
    def tag(self) -> str | None:
        """The tag that it wears."""
        return next((tag.id for tag in reversed(self.tags) if tag.until is None), None)

    @property
    def visual(self) -> str | None:
        """The visual number that it has."""
        return self.visuals[-1] if self.visuals else None

    @property
    def is_nobody(self) -> bool:
        """Whether nothing tells it any more: what a person said of it, and made it by, was taken back."""
        return not (self.tags or self.visuals or self.roster_id or self.merged_into)


class Question(Model):
    """What only a person can say.  The reply names `id` and one of `choices`."""

    id: str
    text: str
    choices: tuple[str, ...]
