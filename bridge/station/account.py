"""Which animals were weighed under the present job sheet, and by which weighing: what makes a weighing a repeat."""

from collections.abc import Mapping

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.record import Record


class Account:
    """One station's account.  `weighed`: each animal's claim (see `Record.claim`), and the weighing that has it."""

    def __init__(self, weighed: Mapping[str, str]) -> None:
        self.weighed = dict(weighed)
        self.sheet = 0

    def begin_sheet(self) -> None:
        """Begin anew with another job sheet."""
        self.sheet += 1
        self.weighed.clear()

    def take(self, record: Record) -> None:
        """Take what a record claims, if it was made under this job sheet."""
        if record.sheet == self.sheet:
            self.count(record.weighing, record.claim)

    def count(self, weighing: str, claim: str | None) -> None:
        """Let a weighing have this claim and no other; the first to have a claim keeps it."""
        for name in [name for name, of in self.weighed.items() if of == weighing and name != claim]:
            del self.weighed[name]
        if claim is not None:
            self.weighed.setdefault(claim, weighing)

    def at(self, record: Record) -> Mapping[str, str]:
        """Return the tags weighed under a record's job sheet; of an earlier one only whether it was a repeat there."""
        if record.sheet == self.sheet:
            return self.weighed
        told = record.published
        again = told is not None and Flag.REPEAT in told.flags and told.tag == record.tag
        return {str(record.code): ""} if again else {}
