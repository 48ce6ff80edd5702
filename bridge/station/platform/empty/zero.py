"""What the empty platform shows, and how far that may wander.

An animal's weight is what the platform shows less what it showed empty.  Mud and dung stay behind, so after each stay
the empty level is taken anew from the first quiet moment, and after that it is followed slowly.  It is never moved
while something stands there.

What was on when listening began tells nothing of the empty platform: it may be a foot on its way up.  So zero is *seen*
only where an empty platform has been quiet since; until then what an earlier run remembers, or what stood still at the
start until more came, is a guess, and what is weighed by it promises nothing.  Where nothing is known at all, that
something came shows by its rise, above zero or below; and what then is left far below was no empty platform.

Where animals follow each other so closely that the platform is never quiet for long, two falls in a row that come to
rest at one level show it all the same.

The limits are those an approved instrument keeps (OIML R 76-1:2006, read in a public document that restates it; clauses
beside each), though what is done here is arithmetic on what the indicator shows.  But for one: an empty platform that
was seen further off than an instrument may be zeroed is zero here all the same, and a person is told to see to it.  To
weigh by what is known to be wrong would serve nobody.
"""

import math
from collections import deque
from statistics import median

from neckyoke.bridge.station.platform.empty import rest
from neckyoke.bridge.station.platform.empty.rest import HELD_QUIET_S, LEFT_SHARE, MOVED_QUIET_S, Lies
from neckyoke.bridge.station.platform.empty.tail import Lowest
from neckyoke.bridge.station.platform.lasting import lasted
from neckyoke.bridge.station.settings import Settings
from neckyoke.bridge.station.weight.arrival import Rests

SETTING_RANGE = 0.04
"""Zero is taken up to this share of capacity: 4.5.1."""
INITIAL_RANGE = 0.20
"""And up to this share at first: 4.5.1, initial zero-setting."""
TRACKING_PER_S = 0.5
"""Scale intervals a second by which zero follows the empty platform: 4.5.7."""
QUIET_S = 0.8
"""So long must the empty platform be quiet before its level is believed,"""
GUESSED_QUIET_S = 1.8
"""So long if it is only what stood still at the start: an animal that leaves does not rest half off for longer."""
SUNK_S = 0.2
"""So long must it show less than it did empty, for a platform that is bumped swings below.  A slow swing does so for as
long: so until it was quiet, or rests there again after another stay, a weight may be wrong by as much as it sank."""
CREEPS_S = 2.0
"""A display that showed a step less so short a while ago may be on its way down still."""
RETAKE_S = 3.0
"""For so long after the first quiet moment a lower level is taken outright, as a fall runs out; else it is followed."""
ENDS = 2
"""Where so many falls in a row end within two intervals of each other, there the empty platform rests;"""
COARSE = 0.004
"""but where two intervals are more than this share of capacity, all falls end within them;"""
PERSON_KG = 30.0
"""and where that is so far up at once, and more than the smallest animal, it may be a person who stands there.  What
is weighed from such a zero promises nothing until the platform has been quiet there for `HELD_QUIET_S`."""
APART = 6
"""What is quiet so many intervals from zero is no drift: something was hung on the platform, or put down.  Until zero
has followed it there, a weight may be wrong by as much."""
WANDER_S = 5.0
"""A quiet level apart from the zero that follows it for so long is wandering faster than it may."""


class Zero:
    """The level of the empty platform, in kilograms as the indicator shows them.

    `seen` tells whether it was seen since listening began, `seen_kg` what it was when last seen, if only in an earlier
    run; `wanders` whether it now moves by itself, faster than it may be followed.  Less than `on_kg` above zero is next
    to nothing.
    """

    def __init__(self, settings: Settings, remembered_kg: float | None) -> None:
        self.kg = remembered_kg or 0.0
        self.seen_kg = remembered_kg
        self.seen = self._guessed = False
        self.wanders = False
        self._smallest_kg = settings.smallest_kg
        self._capacity_kg = settings.capacity_kg
        self.step(settings)
        self._run: deque[tuple[float, float]] = deque()  # readings within a band of each other
        self._run_since = self._low = self._high = 0.0
        self._leapt = False  # the run began far below the reading before it,
        self._first_kg = 0.0  # at this level,
        self._wavered = False  # and was since at another
        self._crept_at = -math.inf  # when it last showed a step less than just before
        self._before: float | None = None
        self._lowest: float | None = None
        self._last_kg = 0.0  # as shown, while it is watched,
        self._kept_below = math.inf  # and the lowest level that two in a row kept below since it is
        self._three: deque[float] = deque(maxlen=3)  # the last readings, and
        self._floor = float("inf")  # the lowest level that three in a row kept below
        self._nobody_came = True  # since listening began
        self._sank_from_kg: float | None = None  # where it was before it was taken lower, not quiet yet,
        self._sank_before = False  # and that was before the last stay
        self._sure_kg: float | None = None  # what it was taken for last when it did not sink any more
        self._ends: deque[float] = deque(maxlen=ENDS)  # where it rested between the last stays, never for long
        self._by_ends = False  # zero is one of these
        self._leapt_kg = 0.0  # and so far above what was quiet: no gate that is hung, a person
        self._was_quiet = False  # it was, for long, before what stands there now
        self._retake_until: float | None = None
        self._followed_at: float | None = None
        self._apart_since: float | None = None
        self._rests_kg: float | None = None  # where it was quiet last, while it is watched

    def step(self, settings: Settings) -> None:
        """Judge by this scale interval from now on."""
        self._interval_kg = settings.interval_kg
        self._band_kg = max(3 * settings.interval_kg, 0.0005 * settings.capacity_kg)
        self.on_kg = max(0.5 * settings.smallest_kg, 3 * settings.interval_kg)

    def watch(self, t: float, shown_kg: float) -> bool:
        """See one reading of the empty platform; true when its level was taken outright."""
        self._gather(t, shown_kg)
        self._three.append(shown_kg)
        if self._has_gone():
            self.guess(max(self._three))
            self.seen_kg = None
        if self.seen_kg is None and self._has_come(shown_kg):
            self.guess(self._floor)
            return False
        if self._is_as_remembered():
            return self._take(t, median(kg for _, kg in self._run), seen=True)
        if self._has_sunk(t, shown_kg):
            return self._sink(t, median(kg for _, kg in self._run))
        self._rest_again()
        level = self.quiet_kg()
        if level is None or not lasted(self._run_since, t, self._quiet_s(level)):
            if self._followed_at is not None:
                self._followed_at = t  # what was not quiet is not caught up with
            return False
        self._come_back(level)
        if self._retake_until is None:
            self._retake_until = t + RETAKE_S
        lower = self._followed_at is None or level <= self.kg
        self._rests_kg = level
        if t <= self._retake_until and lower:
            return self._take(t, level, seen=True)
        self._follow(t, level)
        return False

    def _is_as_remembered(self) -> bool:
        """Return whether, for the first time since listening began, it rests where it was last seen."""
        if self.seen or self.seen_kg is None or len(self._run) < 3:
            return False
        return abs(median(kg for _, kg in self._run) - self.seen_kg) <= 2 * self._interval_kg

    def _has_come(self, shown_kg: float) -> bool:
        """Return whether something came on since listening began, where an indicator may show anything when empty."""
        if len(self._three) == 3:
            self._floor = min(self._floor, max(self._three))
        return shown_kg - self._floor >= self.on_kg

    def _has_gone(self) -> bool:
        """Return whether what stood still when listening began, and was taken for the empty platform, leaves it."""
        return self._nobody_came and self.seen and max(self._three) < self.kg - self.on_kg

    def quiet_kg(self) -> float | None:
        """Return the level the empty platform has kept for a moment, None while it moves or was not watched."""
        run = self._run
        if len(run) < 3 or not lasted(self._run_since, run[-1][0], QUIET_S):
            return None
        levels = [kg for _, kg in run]
        half = len(levels) // 2
        if abs(median(levels[half:]) - median(levels[:half])) > self._interval_kg:
            return None
        return median(levels)

    def look_away(self) -> float:
        """Stop watching: something stands there.  Return by how much zero may be wrong without our knowing.

        What was never quiet may rest at the lowest that was seen; what was taken may have been on its way down still,
        to where it was before, and is no more than two readings in a row were since.
        """
        unsure = 0.0
        rests = self._retake_until is not None and bool(self._run) and not self.sinks
        if not rests and (sure_kg := self._sure_kg) is not None:
            self.kg, unsure = rest.lowered(self.kg, sure_kg, self._kept_below, self._interval_kg, sinks=self.sinks)
            self.seen_kg = self.kg if self.seen else self.seen_kg
        if self._retake_until is None and self._lowest is not None:
            unsure = self._lowest - self.kg
            unsure = 0.0 if -self._band_kg <= unsure < 0.9 * self._interval_kg else abs(unsure)
        elif rests or (self._run and (self._sure_kg is None or self.kg < self._sure_kg)):
            self._sure_kg = self.kg  # who did not watch, or saw it sink still, knows no more than before
        if self._sure_kg is not None and self.kg > self._sure_kg + self._interval_kg:
            unsure = max(unsure, self.kg - self._sure_kg)
        if self._rests_kg is not None and abs(self._rests_kg - self.kg) > APART * self._interval_kg:
            unsure = max(unsure, abs(self._rests_kg - self.kg))
        if self._sank_from_kg is not None:
            unsure, self._sank_before = max(unsure, self._sank_from_kg - self.kg), True
        quiet_s = HELD_QUIET_S if self._leapt_kg else 0.0
        self._was_quiet = rests and lasted(self._run_since, self._run[-1][0], quiet_s)
        self._run.clear()
        self._before = float("inf")
        self._kept_below = math.inf
        self._lowest = self._retake_until = self._followed_at = self._apart_since = self._rests_kg = None
        self._nobody_came = self.wanders = False
        return unsure

    def ends(self, on: float, lowest: Lowest, rests: Rests | None) -> Lies | None:
        """Take the lowest shown since the last stay stood there, at the beginning of the next, at `on`.

        Return what zero is worth where it is what the last falls ended at, or what the display, which comes to rest as
        `rests` tells, had come to rest at.  Though the platform was not quiet for long in any of these gaps, nothing
        comes to rest at one level again and again but an empty one; or one with a person on it.  It may have changed
        since by as much as from one of them to the next.  What is no further above zero than that display may fall yet
        is no zero, but may be.
        """
        if self._ends and lowest.kg < min(self._ends) - 2 * self._interval_kg:
            self._forget_ends()  # whatever rested there has gone
        if self._was_quiet:
            self._forget_ends()
        elif lowest.rested_kg is not None:
            self._ends.append(lowest.rested_kg)
        if not self.seen:
            return None
        if not self._by_ends and (rested := self._rested(on, lowest, rests)):
            return rested
        if len(self._ends) < ENDS or 2 * self._interval_kg > COARSE * self._capacity_kg:
            return None
        apart_kg, level = max(self._ends) - min(self._ends), min(self._ends)
        if apart_kg <= 2 * self._interval_kg and level > self.kg + 2 * self._interval_kg:
            rise_kg = level - self.kg
            if not self._by_ends and rise_kg <= rest.left_kg(lowest.rested_s, self._interval_kg, rests):
                return Lies(rise_kg)  # it may have been on its way down to where it was
            self._leapt_kg += rise_kg if rise_kg > max(self._smallest_kg, PERSON_KG) else 0.0
            self.set(level)
            self._sure_kg, self._by_ends = level, True
        return Lies(apart_kg + max(0.0, self._ends[-1] - self.kg) + self._leapt_kg) if self._by_ends else None

    def _rested(self, on: float, lowest: Lowest, rests: Rests | None) -> Lies | None:
        """Return what zero is worth if the display rested near it, or above by what an animal leaves: zero is that."""
        left = rest.at_rest(on, lowest, self._interval_kg, rests)
        if left is None or self._sank_from_kg is not None:
            return None
        rise_kg = lowest.level_kg - self.kg
        if not -self._interval_kg <= rise_kg <= LEFT_SHARE * self._smallest_kg:
            return None
        if rise_kg > 0:
            self.set(lowest.level_kg)
        return Lies(left, bare=True)

    def _forget_ends(self) -> None:
        self._ends.clear()
        self._by_ends, self._leapt_kg = False, 0.0

    @property
    def sinks(self) -> bool:
        """Whether it crept down a moment ago: a slow display may be on its way still."""
        return bool(self._run) and not lasted(self._crept_at, self._run[-1][0], CREEPS_S)

    def lose_sight(self) -> None:
        """Learn that listening ended: nobody knows what becomes of the platform meanwhile."""
        self.look_away()
        self._forget_ends()
        self.seen, self._nobody_came = False, True

    def _has_sunk(self, t: float, shown_kg: float) -> bool:
        """Return whether less than nothing has stood there for long enough to be believed."""
        return len(self._run) >= 3 and shown_kg < self.kg - self._band_kg and lasted(self._run_since, t, SUNK_S)

    def _rest_again(self) -> None:
        """See whether it rests, after another stay, where it sank to: nothing swings to one level twice."""
        if self._sank_from_kg is None or not self._sank_before or len(self._run) < 3:
            return
        if abs(median(kg for _, kg in self._run) - self.kg) <= 2 * self._interval_kg:
            self._sank_from_kg = None

    def _come_back(self, quiet_kg: float) -> None:
        """Take what sank and is quiet now to be back, no higher than it was."""
        if self._sank_from_kg is not None:
            self.set(max(self.kg, min(quiet_kg, self._sank_from_kg)), seen=self.seen)

    def _sink(self, t: float, level: float) -> bool:
        """Take a level below the last, and remember that one until the empty platform was quiet: it may swing."""
        before = self.before_kg if self._sank_from_kg is None else self._sank_from_kg
        self._take(t, level, seen=self.seen)
        self._sank_from_kg, self._sank_before = before, False
        return True

    def _take(self, t: float, level: float, *, seen: bool) -> bool:
        self.set(level, seen=seen)
        self._followed_at = t
        return True

    def set(self, level_kg: float, *, seen: bool = True) -> None:
        """Take this level as zero, at which the empty platform was seen to be quiet, or (not seen) is not yet."""
        self.kg, self.seen, self._guessed, self._sank_from_kg = level_kg, seen, False, None
        if seen:
            self.seen_kg = level_kg

    @property
    def before_kg(self) -> float | None:
        """What the empty platform showed before, for all that is known; None when nothing is."""
        return self.kg if self._guessed else self.seen_kg

    def guess(self, level_kg: float) -> None:
        """Take what stood still at the start for the empty platform's level, until it is seen."""
        self.kg, self.seen, self._guessed = level_kg, False, True

    def in_range(self, level_kg: float) -> bool:
        """Return whether this level may be taken as zero.  A low one always may: nothing weighs less than nothing."""
        return level_kg <= (INITIAL_RANGE if self.seen_kg is None else SETTING_RANGE) * self._capacity_kg

    @property
    def is_off(self) -> bool:
        """Return whether a person should see to it: the empty platform is half the smallest animal away from zero."""
        return self.before_kg is not None and abs(self.kg) > min(
            SETTING_RANGE * self._capacity_kg, 0.5 * self._smallest_kg
        )

    def _gather(self, t: float, shown_kg: float) -> None:
        run, low = self._run, self._low
        self._low, self._high = min(self._low, shown_kg), max(self._high, shown_kg)
        if self._high - self._low > self._band_kg:
            run.clear()
        if not run:
            self._run_since, self._low, self._high = t, shown_kg, shown_kg
            self._leapt = self._before is not None and self._before - shown_kg > 2 * self._band_kg
            self._first_kg, self._wavered = shown_kg, False
        self._wavered |= shown_kg != self._first_kg
        if run and 0 < low - shown_kg <= 2 * self._interval_kg:
            self._crept_at = t  # what goes down and up again only flickers
        run.append((t, shown_kg))
        while len(run) > 3 and lasted(run[1][0], t, QUIET_S):
            run.popleft()
        self._before = shown_kg
        if self._lowest is not None:
            self._kept_below = min(self._kept_below, max(shown_kg, self._last_kg))
        self._lowest = shown_kg if self._lowest is None else min(self._lowest, shown_kg)
        self._last_kg = shown_kg

    def _quiet_s(self, level: float) -> float:
        if self._guessed:
            return GUESSED_QUIET_S
        if self.seen_kg is None:
            return MOVED_QUIET_S if self._leapt else QUIET_S
        if abs(level - self.kg) <= 4 * self._interval_kg:
            return QUIET_S
        return HELD_QUIET_S if self._leapt and not self._wavered else MOVED_QUIET_S

    def _follow(self, t: float, level: float) -> None:
        step = TRACKING_PER_S * self._interval_kg * (t - (t if self._followed_at is None else self._followed_at))
        self._followed_at = t
        self.kg += min(step, max(-step, level - self.kg))
        self.seen_kg = self.kg if self.seen else self.seen_kg
        if abs(level - self.kg) <= APART * self._interval_kg:
            self._apart_since, self.wanders = None, False
        elif self._apart_since is None:
            self._apart_since = t
        elif lasted(self._apart_since, t, WANDER_S):
            self.wanders = True
