"""What can be asked of the herd book: who an animal is, and what to look out for on it.

    {"kind": "retag", "visual": "105", "tag": "999000000112233"}
    {"kind": "mark", "visual": "105", "text": "keep back", "until": "2026-12-24"}

An animal is meant by `animal` (its id), `visual` or a tag that it wears or wore; by the `weighing` or `number` of a
stay; with none of these, it is the one standing now, or the last one.  Only where a stay is meant is a station.
"""

from datetime import date
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, Field, StringConstraints, field_serializer, model_validator

from neckyoke.bridge.asking.parts import NUMBER_MAX, Animal, Base, OneValue, Short, TagText, Words
from neckyoke.bridge.config.words import column_name, known_sex

ROWS_MAX, COLUMNS_MAX, CELL_MAX = 200, 200, 2000
"""Of one request: so many rows are read in some milliseconds, and no animal waits for them."""
Sex = Annotated[str, AfterValidator(known_sex)]
Cell = Annotated[str, StringConstraints(max_length=CELL_MAX)]


class HerdRequest(Base):
    """A request to the keeper of the herd book."""

    @property
    def words(self) -> tuple[str, ...]:
        """The words that name the animal, if any do."""
        return ()


class OfAnimal(Animal, HerdRequest):
    """A request about one animal of the herd book."""

    animal: Short | None = Field(default=None, description="its id in the herd book")

    @property
    def words(self) -> tuple[str, ...]:
        """The words that name the animal, if any do."""
        named = (getattr(self, key, None) for key in self.naming())
        return tuple(word for word in named if word is not None)

    @classmethod
    def naming(cls) -> tuple[str, ...]:
        """List the keys whose words name the animal."""
        return ("animal", "visual", "tag")


class RetagRequest(OfAnimal):
    """Say that another tag takes the place of an animal's: it is the same animal, and the old tag stays known."""

    kind: Literal["retag"] = "retag"
    tag: TagText = Field(description="the new tag")
    visual: Short | None = None
    was: Short | None = Field(default=None, description="a tag that it wears or wore")

    @classmethod
    def naming(cls) -> tuple[str, ...]:
        """List the keys whose words name the animal: `tag` is the new one."""
        return ("animal", "visual", "was")


class NameRequest(OfAnimal):
    """Say what is known of an animal: its visual number, its birth, its sex, its dam, what else stays with it."""

    kind: Literal["name"] = "name"
    visual: Short | None = Field(default=None, description="the number on its ear")
    was: Short | None = Field(default=None, description="the number, or a tag, that it is known by")
    tag: TagText | None = None
    sex: Sex | None = None
    born: date | None = None
    dam: Short | None = None
    roster_id: Short | None = None
    lasting: dict[Short, OneValue] = Field(default_factory=dict, max_length=20)

    @classmethod
    def naming(cls) -> tuple[str, ...]:
        """List the keys whose words name the animal: `visual` is what it is called from now on."""
        return ("animal", "was", "tag")

    @property
    def facts(self) -> dict[str, Any]:
        """What is said of it, but for its number."""
        born = self.born and self.born.isoformat()
        known: dict[str, Any] = {"sex": self.sex, "born": born, "dam": self.dam, "roster_id": self.roster_id}
        known |= {column_name(name): value for name, value in self.lasting.items()}
        return {name: value for name, value in known.items() if value is not None}

    @model_validator(mode="after")
    def _something(self) -> Self:
        if self.visual is None and not self.facts:
            raise ValueError("say what is known: visual, sex, born, dam, roster_id or lasting")
        return self

    @field_serializer("born")
    def _spelled(self, born: date | None) -> str | None:
        return born.isoformat() if born else None


class MarkRequest(OfAnimal):
    """Put a mark on an animal, to be looked out for; a mark of the same words is replaced."""

    kind: Literal["mark"] = "mark"
    text: Words
    visual: Short | None = None
    tag: TagText | None = None
    begins: date | None = Field(default=None, alias="from", description="the first day; without it, at once")
    until: date | None = Field(default=None, description="the last day; without it, until it is taken off")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.begins is not None and self.until is not None and self.until < self.begins:
            raise ValueError(f"it would end on {self.until} before it begins on {self.begins}")
        return self


class UnmarkRequest(OfAnimal):
    """Take a mark off an animal by its words; without words, all of them."""

    kind: Literal["unmark"] = "unmark"
    text: Words | None = None
    visual: Short | None = None
    tag: TagText | None = None


class MergeRequest(OfAnimal):
    """Say that two animals of the herd book are one: `other` turned out to be this one."""

    kind: Literal["merge"] = "merge"
    other: Short = Field(description="a tag, a visual number or an id")
    visual: Short | None = None
    tag: TagText | None = None


class SplitRequest(OfAnimal):
    """Take a merging back: `other` is an animal by itself again."""

    kind: Literal["split"] = "split"
    other: Short | None = Field(default=None, description="a tag, a visual number or an id")
    visual: Short | None = None
    tag: TagText | None = None


class ImportRequest(HerdRequest):
    """Take rows of an export or of a roster into the herd book; nothing that it has is overwritten, and that is told.

    `neckyoke herd import` sends a file so, some rows at a time, while the daemon runs.
    """

    kind: Literal["import"] = "import"
    header: tuple[Cell, ...] = Field(max_length=COLUMNS_MAX, description="the columns' names")
    rows: dict[Annotated[int, Field(ge=1, le=NUMBER_MAX)], tuple[Cell, ...]] = Field(
        min_length=1, max_length=ROWS_MAX, description="the cells of each row, by its number in the file"
    )


class ReplyRequest(HerdRequest):
    """Reply to a question; without `question`, to the last one asked."""

    kind: Literal["reply"] = "reply"
    question: Short | None = None
    choice: Words
