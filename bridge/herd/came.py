"""Which animals came on which of the last days.  Who was held to have come counts, whatever is said of it later."""

from collections.abc import Set as AbstractSet
from datetime import date

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.bridge.herd.held import own_id

KEPT = 3
"""Days that are known, those of the last weighings: today's, for what is said the day after the one before, and one of
a clock that leapt."""
IN_DOUBT = frozenset({Flag.WHICH_ANIMAL, Flag.VOIDED})


class Came:
    """Animals are meant by the id that the weighing says that they had by themselves."""

    def __init__(self) -> None:
        self._on: dict[date, set[str]] = {}

    def add(self, data: Weighing, day: date) -> None:
        """Take a weighing of a day, or its next revision; one in doubt shows nobody."""
        animal = own_id(data)
        if animal is None or not IN_DOUBT.isdisjoint(data.flags):
            return
        animals = self._on.pop(day, set())  # the day of the last weighing stands last
        animals.add(animal)
        self._on[day] = animals
        if len(self._on) > KEPT:
            del self._on[next(iter(self._on))]

    def on(self, day: date) -> AbstractSet[str] | None:
        """Return the animals that came on a day; None for one before all that are known."""
        return None if self._on and day < min(self._on) else self._on.get(day, set())
