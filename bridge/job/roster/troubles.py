"""What is wrong in a table, gathered cell by cell and told a sentence a kind: 400 bad cells are not 400 lines."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from neckyoke.bridge.config.problems import Problem

ROWS_NAMED = 5
"""Rows named in one sentence; of more, how many more."""


class Trouble(NamedTuple):
    """One trouble: what differs from cell to cell is in `what`, and not in `kind`."""

    row: int
    column: str
    what: str
    hint: str
    kind: str


@dataclass(slots=True)
class Troubles:
    """The troubles of one file, by column and kind."""

    path: Path
    _found: dict[tuple[str, str], list[Trouble]] = field(default_factory=dict)

    def say(self, row: int, column: str, what: str, hint: str, kind: str | None = None) -> None:
        """Take one trouble."""
        self._found.setdefault((column, kind or what), []).append(Trouble(row, column, what, hint, kind or what))

    def each(self) -> Iterator[Trouble]:
        """Yield every trouble by itself."""
        return (one for met in self._found.values() for one in met)

    def problems(self) -> Iterator[Problem]:
        """Yield a problem a kind, in the order in which they were met."""
        for (column, _), met in self._found.items():
            row, _, what, hint, _ = met[0]
            if len(met) == 1:
                yield Problem(file=str(self.path), where=f"row {row}, column {column}", what=what, hint=hint)
                continue
            known = [*dict.fromkeys(one.row for one in met)]
            rows = ", ".join(map(str, known[:ROWS_NAMED]))
            more = f" and {len(known) - ROWS_NAMED} more" if len(known) > ROWS_NAMED else ""
            told = f"{len(met)} cells, the first: {what}"
            yield Problem(file=str(self.path), where=f"rows {rows}{more}, column {column}", what=told, hint=hint)
