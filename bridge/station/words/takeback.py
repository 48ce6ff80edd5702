"""What people said of animals, in order, so that any of it can be taken back.

What is said of a stay at hand is a list, and the stay's record is what the list makes of it: a word left out, the rest
is gone through again.  A tag that was given away comes back with the verdicts of before, as far as nobody has spoken
since.  A stay that only the journal knows is put back elsewhere (bridge/site/undoing.py); here its neighbours are.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from neckyoke.bridge.station.instructions import AnimalInstruction, Dosed, Found, Identify, Note, Void
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.tags.stays import OpenStay
from neckyoke.bridge.station.tags.verdict import Verdict

KEPT = 500
"""Words that can be taken back."""
WHY = "a person took back what was said"
OF_WORDS = ("word", "said", "had", "withdrawn", "unsaid", "verdict", "closed", "reopened")
"""What a word changes of a stay."""
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
    past: bool = False  # it is of a stay that only the journal knows


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
        """Forget a word; what later ones found of tags is as though it had not been said."""
        later = self._spoken[self._spoken.index(spoken) + 1 :]
        self._spoken.remove(spoken)
        before, after = spoken.verdicts
        for one in later:
            for held in one.verdicts:
                held |= {n: before.get(n) for n in held.keys() & after.keys() if held[n] == after[n]}
            if one.stays is not None and spoken.stays is not None:
                found, left = one.stays
                one.stays = _unsaid(found, *spoken.stays), _unsaid(left, *spoken.stays)

    def fold(self, record: Record) -> None:
        """Make of a record what the words on it say."""
        record.notes, record.voided, record.none_given, record.visual = [], False, False, None
        record.findings, record.doses = {}, {}
        for one in self._spoken:
            if one.number == record.number and not one.past:
                apply(record, one.said, one.t)


def _unsaid(found: Stays, before: Stays, after: Stays) -> Stays:
    """Return the stays that a later word found as though an earlier one, of these around it, had not been said.

    Those that it spoke of are unsaid; those beside, that it gave another tag or none, have theirs again.
    """
    without = dict(found)
    for n in found.keys() & before.keys() & after.keys():
        was, left, one = before[n], after[n], found[n]
        if one.words == left.words and (left.words != was.words or one.settled == left.settled != was.settled):
            without[n] = replace(one, **{key: getattr(was, key) for key in OF_WORDS})
    return without


def apply(record: Record, said: AnimalInstruction, t: float) -> None:
    """Let a record have what is said of it, but for its tag."""
    match said:
        case Note(text):
            record.notes.append(text)
        case Void(given=given, doses=doses):
            record.voided, record.none_given = True, given is False
            for name in doses:
                record.dose(Dosed(name, given=True), t)
        case Found():
            record.find(said, t)
        case Dosed():
            record.dose(said, t)
        case Identify():
            record.visual = said.visual


def verdicts_of(records: Iterable[Record]) -> dict[int, Verdict | None]:
    """Return what is held of each record's tag."""
    return {record.number: record.verdict for record in records}
