"""Which animals came on which of the last days.  Who was held to have come counts, whatever is said of it later."""

from collections.abc import Set as AbstractSet
from datetime import date, timedelta

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.bridge.herd.held import own_id

KEPT = timedelta(days=1)
"""How long before the last day with a weighing a day is still known: for what is said the day after."""
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
        if day not in self._on:
            last = max([day, *self._on])
            self._on = {its: animals for its, animals in [*self._on.items(), (day, set())] if its + KEPT >= last}
        if day in self._on:
            self._on[day].add(animal)

    def on(self, day: date) -> AbstractSet[str] | None:
        """Return the animals that came on a day; None for one that is too long ago to tell."""
        known = self._on.get(day, set())
        return None if self._on and day + KEPT < max(self._on) else known
