"""Which animals are withheld by doses given here: of each weighing the newest revision, until its dates have passed."""

from collections.abc import Iterable, Iterator
from datetime import date

from neckyoke.bridge.events import Weighing
from neckyoke.bridge.job.doses.withholding import is_withheld, longest


def clear_dates(data: Weighing) -> tuple[str | None, str | None]:
    """Return the first clear dates after what a weighing gave: for meat, and for export; None where nothing holds."""
    given = [one for one in data.treatments if not one.skipped]  # also where the weighing is struck out
    return longest(one.withheld_until for one in given), longest(one.export_from for one in given)


def own_id(data: Weighing) -> str | None:
    """Return the id that a weighing's animal had by itself, whatever it was merged into then."""
    animal = data.animal or {}
    return animal.get("known_as") or animal.get("id")


class Held:
    """Doses that may still hold somebody, by weighing.  Animals are meant by the id that the weighing says."""

    def __init__(self, rows: Iterable[tuple[str, int, str, str | None]] = ()) -> None:
        self._of_weighing: dict[str, tuple[int, str, str | None]] = {
            weighing: (revision, animal, clear) for weighing, revision, animal, clear in rows
        }

    def add(self, data: Weighing) -> None:
        """Take a weighing, or its next revision."""
        animal = own_id(data)
        known = self._of_weighing.get(data.weighing)
        if animal is None and known is None:
            return
        if known is not None and known[0] > data.revision:
            return
        clear, _ = clear_dates(data)
        if (animal is None or clear is None) and data.revision == 1:
            return
        self._of_weighing[data.weighing] = (data.revision, animal or "", None if animal is None else clear)

    def on(self, day: date) -> Iterator[tuple[str, str]]:
        """Yield (animal id, first clear date) of each dose that holds on a day."""
        for _, animal, clear in self._of_weighing.values():
            if is_withheld(clear, day):
                assert clear is not None, "it holds"
                yield animal, clear
