"""What a person is told of the platform."""

from neckyoke.bridge.events import Attention
from neckyoke.bridge.standing import Standing
from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.settings import Settings

OVER = {
    "zero-off": "The empty platform shows zero again.",
    "zero-wanders": "The empty platform is quiet again.",
    "stuck": "The platform is free.",
    "beyond": "The scale shows what it can bear again.",
    "steps": "The scale shows weights in the steps that interval_kg names.",
}
"""Every trouble there is, and what is said when it is over."""
OVER_INTERVALS = 9
"""An indicator shows so many intervals more than its capacity, and no more: OIML R 76-1:2006, 4.2.3."""


class Troubles:
    """The troubles of one platform.  `now` is the present time, to be kept so by whoever has them."""

    def __init__(self, settings: Settings) -> None:
        self.now = 0.0
        self._station = settings.name
        self._standing = Standing(patient=True)
        self._capacity_kg, self._interval_kg = settings.capacity_kg, settings.interval_kg
        self._most_kg = settings.capacity_kg + OVER_INTERVALS * settings.interval_kg

    def zero(self, zero: Zero) -> list[Attention]:
        """See what the empty platform shows."""
        is_off = zero.is_off
        if not is_off and not zero.wanders and not self._standing:
            return []
        off = f"The empty platform shows {zero.kg:g} kg. Clean the platform, then zero the indicator."
        wanders = "The empty platform's reading will not stay. See what touches it, then the cables and load bars."
        known = zero.before_kg is not None  # else nobody can say that it is off, nor that it is no more
        told = self._see("zero-off", off, so=is_off) if known else []
        return told + self._see("zero-wanders", wanders, so=zero.wanders)

    def stuck(self, kg: float) -> list[Attention]:
        """Learn that what was on at the start has not moved."""
        text = f"{kg:g} kg stood on the platform at the start and has not moved since. "
        return self._see("stuck", text + "If nothing stands there, clean the platform and zero the indicator.", so=True)

    def free(self) -> list[Attention]:
        """Learn that what stood there left."""
        return self._see("stuck", "", so=False)

    def is_beyond(self, shown_kg: float) -> bool:
        """Return whether this is more than the platform bears."""
        return shown_kg > self._most_kg

    def beyond(self, kg: float | None) -> list[Attention]:
        """See what an animal weighed: more than the platform bears is no animal, but a number read wrongly."""
        if kg is None:
            return []
        text = f"The scale showed {kg:g} kg, more than capacity_kg = {self._capacity_kg:g}. If it does not send its "
        text += "decimal point, its layout needs decimals (neckyoke listen says how); else set capacity_kg right."
        return self._see("beyond", text, so=self.is_beyond(kg))

    def steps(self, kg: float) -> list[Attention]:
        """See in what steps the scale shows weights."""
        text = f"The scale shows weights in steps of {kg:g} kg, where the configuration says interval_kg = "
        text += f"{self._interval_kg:g}. Weights are judged by what is seen; set interval_kg = {kg:g}."
        return self._see("steps", text, so=kg != self._interval_kg)

    def _see(self, about: str, text: str, *, so: bool) -> list[Attention]:
        if not so and not self._standing:
            return []
        told = Attention(station=self._station, about=about, text=text if so else OVER[about], over=not so)
        said = self._standing.note(self.now, told)
        return [said] if said else []
