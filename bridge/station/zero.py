"""What the empty platform shows, and how far that may wander.

An animal's weight is what the platform shows less what it showed empty.  Mud and dung stay behind, so the empty level is
taken anew after each stay, from the first quiet moment, and between stays it is followed slowly.  It is never moved while
something stands there.  Its limits are those that an approved indicator keeps (OIML R 76-1, as restated in a public
document; clause numbers beside each).
"""

from collections import deque
from statistics import median

from bridge.station.settings import Settings

SETTING_RANGE = 0.04
"""Zero is taken up to this share of capacity: R 76-1, 4.5.1."""
INITIAL_RANGE = 0.20
"""And up to this share at the start: R 76-1, 4.5.1, initial zero-setting."""
TRACKING_PER_S = 0.5
"""Scale intervals a second by which zero follows an empty platform: R 76-1, 4.5.7."""
QUIET_S = 0.8
"""So long must the empty platform be quiet before its level is believed."""
RETAKE_S = 3.0
"""For so long after a stay the level is taken outright; later it is only followed."""
WANDER_S = 5.0
"""So long may the quiet level differ from the zero that follows it before it is said to wander."""


class Zero:
    """The level of the empty platform, in kilograms as the indicator shows them."""

    def __init__(self, settings: Settings, remembered_kg: float | None) -> None:
        self._interval_kg = settings.interval_kg
        self._capacity_kg = settings.capacity_kg
        self._band_kg = max(3 * settings.interval_kg, 0.0005 * settings.capacity_kg)
        self.kg = remembered_kg or 0.0
        self.known = remembered_kg is not None
        self.wanders = False
        self._recent: deque[tuple[float, float]] = deque()
        self._retake_until: float | None = None
        self._followed_at: float | None = None
        self._apart_since: float | None = None

    def quiet_kg(self) -> float | None:
        """Return the level the empty platform has kept for the last moment, None while it moves or was not watched."""
        if len(self._recent) < 3 or self._recent[-1][0] - self._recent[0][0] < QUIET_S:
            return None
        levels = [kg for _, kg in self._recent]
        if max(levels) - min(levels) > self._band_kg:
            return None
        half = len(levels) // 2
        creep = median(levels[half:]) - median(levels[:half])
        return median(levels) if abs(creep) <= self._interval_kg else None

    def watch(self, t: float, shown_kg: float) -> bool:
        """See one reading of the empty platform; true when its level was taken outright."""
        self._recent.append((t, shown_kg))
        while len(self._recent) > 3 and t - self._recent[1][0] >= QUIET_S:
            self._recent.popleft()
        level = self.quiet_kg()
        if level is None:
            return False
        if self._retake_until is None:
            self._retake_until = t + RETAKE_S
        if t <= self._retake_until and self.in_range(level):
            self.set(level)
            self._followed_at = t
            return True
        self._follow(t, level)
        return False

    def look_away(self) -> None:
        """Forget the recent readings: something stands on the platform, or the indicator was silent."""
        self._recent.clear()
        self._retake_until = self._followed_at = self._apart_since = None
        self.wanders = False

    def set(self, level_kg: float) -> None:
        """Take this level as zero."""
        self.kg, self.known = level_kg, True

    def in_range(self, level_kg: float) -> bool:
        """Tell whether this level may be taken as zero: nothing weighs less than nothing, so a low one always may."""
        share = SETTING_RANGE if self.known else INITIAL_RANGE
        return level_kg <= share * self._capacity_kg

    def is_off(self, smallest_kg: float) -> bool:
        """Tell whether a person should clean the platform: it shows, empty, as much as half the smallest animal."""
        return self.known and abs(self.kg) > min(SETTING_RANGE * self._capacity_kg, 0.5 * smallest_kg)

    def _follow(self, t: float, level: float) -> None:
        step = TRACKING_PER_S * self._interval_kg * (t - (self._followed_at if self._followed_at is not None else t))
        self._followed_at = t
        if self.in_range(level):
            self.kg += min(step, max(-step, level - self.kg))
        if abs(level - self.kg) <= 6 * self._interval_kg:
            self._apart_since, self.wanders = None, False
        elif self._apart_since is None:
            self._apart_since = t
        elif t - self._apart_since >= WANDER_S:
            self.wanders = True
