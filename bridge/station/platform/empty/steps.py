"""The steps in which the indicator shows weights, where they are not those that the configuration names.

What is quiet, what is held and what is residue is judged in scale intervals.  Whoever writes the configuration may take
the wrong one: told too fine, no empty platform ever seems quiet; told too coarse, everything does.  Readings tell: two
that differ do so by whole steps, and at rest mostly by one.
"""

FEW, OFTEN = 40, 4
"""So many changes are looked at before anything is said, and the smallest must have come so often among them."""
FINER, COARSER, MOST = 0.4, 2.5, 12.0
"""Steps are taken for others than those told from these shares on, and up to the last: beyond, they are no steps."""

SMALLER = 0.9
"""What is below this share of a change is a smaller one, and none that was only rounded."""


class Steps:
    """The changes between readings, as shown.  `kg` is the step in use."""

    def __init__(self, told_kg: float) -> None:
        self.kg = self._told_kg = told_kg
        self._last: float | None = None
        self._changes: dict[float, int] = {}
        self._count = 0

    def see(self, shown_kg: float) -> None:
        """Take one reading."""
        change = 0.0 if self._last is None else round(abs(shown_kg - self._last), 4)
        self._last = shown_kg
        if not 0.0 < change <= MOST * self._told_kg:
            return
        self._changes[change] = self._changes.get(change, 0) + 1
        self._count += 1
        if self._count % FEW:
            return
        smallest = min((kg for kg, times in self._changes.items() if times >= OFTEN), default=self._told_kg)
        share = smallest / self._told_kg
        finer = sum(times for kg, times in self._changes.items() if kg < SMALLER * smallest)
        self._changes.clear()
        is_coarser = share >= COARSER and finer < OFTEN  # nothing changes by less than a step
        step = smallest if share <= FINER or is_coarser else self._told_kg
        self.kg = step if self.kg == self._told_kg else min(step, self.kg)
