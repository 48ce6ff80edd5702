"""What was taken for the empty platform, though it may be an animal: it was one if it goes.

The fore feet of a calf weigh less than the smallest animal, and so do its hind feet: each is taken for the empty
platform's once it is still.  What matters is what both weighed, above the platform as it was before the first of them.
"""

from typing import TYPE_CHECKING

from neckyoke.bridge.station.platform.lasting import lasted

if TYPE_CHECKING:
    from neckyoke.bridge.station.platform.stay import Stay

LIES_S = 60.0
"""What has been too light for an animal for so long is no part of one: it lies there."""


class Aside:
    """One stay, or none, that was set aside; it sees what is shown until an animal's stay begins."""

    def __init__(self) -> None:
        self._stay: Stay | None = None

    def take(self, stay: "Stay") -> None:
        """Set this one aside, unless one is that it comes to."""
        self._stay = self._stay or stay

    def feed(self, t: float, shown_kg: float | None) -> None:
        """Take one reading of whatever stands there now."""
        if self._stay:
            self._stay.feed(t, shown_kg)

    def gone(self, t: float, shown_kg: float, on_kg: float) -> "Stay | None":
        """Take a reading of the platform as far as it is taken for empty; return what went, if that was an animal."""
        self.feed(t, shown_kg)
        stay = self._stay
        if stay is None:
            return None
        goes = shown_kg - stay.zero_kg < on_kg
        if goes or (lasted(stay.on, t, LIES_S) and not stay.was_heavy):
            self._stay = None
        return stay if goes and stay.was_heavy else None
