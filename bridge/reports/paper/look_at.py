"""What a person should look at once the animals have gone, and what would settle each.

Each weighing stands in the list once, under the first line that fits it: who has no tag need not be told that it is
not on the roster.  A tag settles no dose and no weight, and so these have lines of their own beside.  Weighings that a
person struck out, and those of a paused job, are in none; a flag that a later animal took away (a revision) is not here
either.
"""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from neckyoke.bridge.reports.paper.lists import by_name
from neckyoke.bridge.reports.rows import Row
from neckyoke.bridge.reports.tally import Tally

SETTLED: Mapping[str, tuple[str, str]] = {
    "which-animal": ("of which nobody said which animal it was", "answer the question about it"),
    "maybe-same": (
        "that may be the animal before it once more",
        "where it was one animal, strike this later stay out; else say its tag, and what it was given",
    ),
    "two-tags": ("that two tags fit", "read its tag again, and say which it is"),
    "no-tag": ("without a tag", "read its tag by hand, or its ear number, and say it; a dead tag wants replacing"),
    "not-given": (
        "not given what the sheet says: taken for one that had had it, or gone before its weight was shown",
        "give it, and say so",
    ),
    "dose-doubtful": (
        "whose dose was hardly on show or not at all, or by a first weight far from the last",
        "say what was given, or that it was not",
    ),
    "tag-doubtful": ("with a doubtful tag", "hold its ear number, or a new read, against the tag it was given"),
    "not-animal": ("with a tag that is no animal's", "see what wears that tag, and say the animal's own"),
    "odd-code": ("with a tag code that is not given out", "read its tag again"),
    "not-expected": ("not on the roster", "add it there, or see whether it is another mob's"),
    "weight-unlikely": ("whose weight is unlikely after its last", "weigh it again, and read its tag beside"),
}
"""By flag, the most urgent first: what it is, and what would settle it."""
OF_DOSES = ("not-given", "dose-doubtful")
"""Flags that stand beside whatever else fits, and beside each other: two treatments want two words."""
GRADED: Mapping[str, tuple[str, str]] = {
    "poor": ("with a poor weight, in no figure of weight", "weigh again"),
    "none": ("without a weight", "weigh again"),
}
"""By grade likewise; beside a flag, since one visit to the crush does not settle both."""


class Look(NamedTuple):
    """One line of the list: `what` is the matter, what would `settle` it, and the weighings.

    Where the tag is in doubt so is the name, and each is named by its number too: `correct --number` wants it.
    """

    what: str
    settle: str
    rows: tuple[Row, ...]
    by_number: bool

    @property
    def told(self) -> str:
        """What is the matter with how many."""
        return f"{len(self.rows)} {self.what}; {self.settle}"

    @property
    def names(self) -> list[str]:
        """Each as a person finds it again."""
        return [_numbered(row) if self.by_number else row.name for row in self.rows]

    def some(self, most: int) -> str:
        """Name so many of them, and count the rest."""
        more = len(self.rows) - most
        return ", ".join(self.names[:most]) + (f" and {more} more" if more > 0 else "")


def to_look_at(tally: Tally) -> list[Look]:
    """Return the list; lines that fit nobody are left out."""
    flagged: dict[str, list[Row]] = {flag: [] for flag in SETTLED}
    for row in tally.standing:
        fits = [flag for flag in SETTLED if flag in row.setting.flags]
        first = next((flag for flag in fits if flag not in OF_DOSES), None)
        for flag in fits:
            if flag == first or flag in OF_DOSES:
                flagged[flag].append(row)
    found = [Look(*SETTLED[flag], _sorted(rows), by_number=True) for flag, rows in flagged.items() if rows]
    for grade, said in GRADED.items():
        if rows := [row for row in tally.animals if row.setting.grade == grade]:
            found.append(Look(*said, _sorted(rows), by_number=False))
    return found


def lines(tally: Tally, most: int) -> Iterator[str]:
    """Return the list as lines, so many named in each."""
    yield from (f"{one.told}: {one.some(most)}" for one in to_look_at(tally))


def as_json(tally: Tally) -> list[dict[str, Any]]:
    """Spell the list for a program."""
    return [
        {
            "what": one.what,
            "settle": one.settle,
            "animals": [
                {"name": name, "animal": row.animal, "number": row.number, "station": row.setting.station}
                for name, row in zip(one.names, one.rows, strict=True)
            ],
        }
        for one in to_look_at(tally)
    ]


def _numbered(row: Row) -> str:
    number = f"number {row.number}"
    return row.name if row.name == number else f"{row.name} ({number})"


def _sorted(rows: list[Row]) -> tuple[Row, ...]:
    return tuple(sorted(rows, key=by_name))
