"""Which animals were weighed under each job sheet, and by which weighing: one account for station and clerk alike."""

from collections.abc import Mapping, Sequence

from neckyoke.bridge.station.record import Record

SHEETS_KEPT = 16
"""How many sheets back a weighing can be amended with its account at hand."""


class Account:
    """One station's account.

    `weighed` is that of the present job sheet: every name of each animal (see `Record.claims`), and the weighing that
    has it.  Another sheet begins another mapping; whoever holds an earlier one sees it kept up.
    """

    def __init__(self, weighed: Mapping[str, str]) -> None:
        self.sheet = 0
        self._of_sheet = {0: dict(weighed)}

    @property
    def weighed(self) -> Mapping[str, str]:
        """Who was weighed under the present job sheet."""
        return self._of_sheet[self.sheet]

    def begin_sheet(self) -> None:
        """Begin anew with another job sheet."""
        self.sheet += 1
        self._of_sheet[self.sheet] = {}
        self._of_sheet.pop(self.sheet - SHEETS_KEPT, None)

    def take(self, record: Record) -> None:
        """Take what a record claims under the job sheet that it was made under."""
        self._count(self._of_sheet.get(record.sheet, {}), record.weighing, record.claims)

    def free(self, record: Record) -> None:
        """Let a record claim nothing."""
        self._count(self._of_sheet.get(record.sheet, {}), record.weighing, ())

    def count(self, weighing: str, claims: Sequence[str]) -> None:
        """Let a weighing under the present job sheet have these claims and no other."""
        self._count(self._of_sheet[self.sheet], weighing, claims)

    def at(self, record: Record) -> Mapping[str, str]:
        """Return who was weighed under a record's job sheet; nobody when that is too long ago."""
        return self._of_sheet.get(record.sheet, {})

    @staticmethod
    def _count(weighed: dict[str, str], weighing: str, claims: Sequence[str]) -> None:
        """Give claims: who has one first keeps it; whose first one another has is that one's animal, and gets none."""
        for name in [name for name, of in weighed.items() if of == weighing and name not in claims]:
            del weighed[name]
        if claims and weighed.setdefault(claims[0], weighing) == weighing:
            for name in claims[1:]:
                weighed.setdefault(name, weighing)
