"""What people said of animals, in order, so that any of it can be taken back.

What is said of a stay at hand is a list, and the stay's record is what the list makes of it: a word left out, the rest
is gone through again.  A tag that was given away comes back with the verdicts of before, as far as nobody has spoken
since.  Of a stay that only the journal knows, what a word changed is put back where it is still as the word left it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from neckyoke.bridge.events import Weighing
from neckyoke.bridge.station.instructions import AnimalInstruction, Dosed, Found, Identify, Note, Void
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.tags.stays import OpenStay
from neckyoke.bridge.station.tags.verdict import Verdict

KEPT = 500
"""Words that can be taken back."""
WHY = "a person took back what was said"
NOT_PUT_BACK = frozenset({"revision", "why", "final", "final_at", "notes"})

Stays = Mapping[int, OpenStay]


@dataclass(slots=True)
class Spoken:
    """One word: the request it came in, the number of its stay, when; and what it did to the tags around it.

    `verdicts` are before and after, by number; `stays` what pairing held, before and after.
    """

    asked: str | None
    number: int
    said: AnimalInstruction
    t: float
    verdicts: tuple[dict[int, Verdict | None], dict[int, Verdict | None]] = field(default_factory=lambda: ({}, {}))
    stays: tuple[Stays, Stays] | None = None
    past: tuple[Weighing, Weighing] | None = None  # before and after, of one that only the journal knows


class Words:
    """The last words of one station."""

    def __init__(self) -> None:
        self._spoken: list[Spoken] = []

    def add(self, spoken: Spoken) -> None:
        """Take a word."""
        self._spoken.append(spoken)
        del self._spoken[:-KEPT]

    def find(self, asked: str) -> Spoken | None:
        """Return a word by its request."""
        return next((one for one in self._spoken if one.asked == asked), None)

    def leave_out(self, spoken: Spoken) -> None:
        """Forget a word."""
        self._spoken.remove(spoken)

    def fold(self, record: Record) -> None:
        """Make of a record what the words on it say."""
        record.notes, record.voided, record.visual = [], False, None
        record.findings, record.doses = {}, {}
        for one in self._spoken:
            if one.number == record.number and one.past is None:
                apply(record, one.said, one.t)


def apply(record: Record, said: AnimalInstruction, t: float) -> None:
    """Let a record have what is said of it, but for its tag."""
    match said:
        case Note(text):
            record.notes.append(text)
        case Void():
            record.voided = True
        case Found():
            record.find(said, t)
        case Dosed():
            record.dose(said, t)
        case Identify():
            record.visual = said.visual


def verdicts_of(records: Iterable[Record]) -> dict[int, Verdict | None]:
    """Return what is held of each record's tag."""
    return {record.number: record.verdict for record in records}


def put_back(now: Weighing, spoken: Spoken) -> Weighing:
    """Return the next revision of a weighing without a word: what it changed is as before, where it is still so."""
    assert spoken.past is not None, "it is of long ago"
    before, after = spoken.past
    update: dict[str, Any] = {
        name: getattr(before, name)
        for name in Weighing.model_fields
        if name not in NOT_PUT_BACK
        and getattr(before, name) != getattr(after, name)
        and getattr(now, name) == getattr(after, name)
    }
    if isinstance(spoken.said, Note) and spoken.said.text in now.notes:
        notes = list(now.notes)
        notes.remove(spoken.said.text)
        update["notes"] = tuple(notes)
    return now.model_copy(update={**update, "revision": now.revision + 1, "why": WHY})
