"""Stays that are over: each told once, and what the mob weighs.

A stay before which the empty platform was not seen waits here for it to be quiet.  Any other is told at once, and once
more if the empty platform then shows that its zero has moved by more than its weight can bear.
"""

from collections import deque
from statistics import quantiles

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.platform.empty.tail import RESTED_S, Lowest
from neckyoke.bridge.station.platform.empty.zero import SUNK_S
from neckyoke.bridge.station.platform.happenings import Ended, ZeroMoved
from neckyoke.bridge.station.platform.lasting import lasted
from neckyoke.bridge.station.platform.stay import Stay
from neckyoke.bridge.station.weight.apart import paused, rests
from neckyoke.bridge.station.weight.arrival import Arrivals, Falls
from neckyoke.bridge.station.weight.lag import LOOKED_AT, Lags
from neckyoke.bridge.station.weight.settling import OUTWEIGHS, Known

WAITS_S = 3.0
"""So long may a stay before which the empty platform was not seen wait for it."""
MOB, FEW, ALIKE = 15, 5, 0.3
"""Last animals that make the mob's usual weight; the fewest that make one; and how far apart, as a share of the
middle one, the quarters of them may lie."""

MANY, RATHER = 8, 1.1
"""So many last animals tell what is far heavier than any; of fewer, what is no more than fair and weighs so many times
the heaviest may be an animal and a person.  So may what is heavier than any, and paused half on or half off: what
seemed a pause may be all of the animal."""
LEANED, LEANED_S, LEAN_FEW, LEANS = 0.12, 2.5, 4, 0.15
"""One leaned of whose level, as long as this, such a share disagrees; and a mob leans of so many last ones or more this
share of which did."""
STOOD_BINS, STOOD = 10, 0.05
"""What stood for so many bins, within this share, did not just leave late."""
CAME_BACK_S = 3.0
SAME = 0.006
"""An animal that follows within that time and weighs the same within this share is the same animal."""


class Closing:
    """The stays that are over."""

    def __init__(self) -> None:
        self.waiting: Stay | None = None  # for the empty platform to tell its weight
        self._previous: Stay | None = None
        self._mob: deque[float] = deque(maxlen=MOB)
        self._leaned: deque[bool] = deque(maxlen=MOB)
        self._lags = Lags()
        self._arrivals = Arrivals()
        self._falls = Falls()

    @property
    def former(self) -> Stay | None:
        """The last stay that is over."""
        return self.waiting or self._previous

    def end(self, stay: Stay, why: Flag | None) -> list[Ended]:
        """Return how a stay ended, or let it wait: nothing.  `why`, if the platform was not seen to be released."""
        if why is not None:
            stay.flags.add(why)
            stay.unfinished = True
        elif not stay.zero_seen:
            self.waiting = stay
            return []
        return self._close(stay)

    def meet(self, t: float) -> list[Ended]:
        """Let go the stay that has waited for long enough."""
        return self.let_go() if self.waiting and lasted(self.waiting.off, t, WAITS_S) else []

    def let_go(self, zero_kg: float | None = None) -> list[Ended]:
        """Return how the stay that waits ended: the empty platform, quiet, shows this; None: it will not be seen."""
        stay, self.waiting = self.waiting, None
        if stay is None:
            return []
        if zero_kg is not None:
            stay.rezero(zero_kg)
        return self._close(stay)

    def moved(self, t: float, zero_kg: float, *, sinks: bool) -> list[ZeroMoved]:
        """Return, once the platform is quiet after a stay, whether that stay moved zero; or is to be (it `sinks`)."""
        stay = self._previous
        if stay is None or not stay.moved(zero_kg, sinks=sinks):
            return []
        return [_once_more(stay, t)]

    @property
    def is_to_be_judged(self) -> bool:
        """Whether it was quiet since the last stay, but sank still."""
        stay = self._previous
        return stay is not None and not stay.is_judged and stay.moved_kg is not None

    def followed(self, t: float, lowest: Lowest, zero_kg: float) -> list[ZeroMoved]:
        """Return, as the next stay begins, whether what was shown in between makes the last one's grade worse.

        Where the platform was not quiet for long, what rested tells, sooner if it was less than nothing.
        """
        stay = self._previous
        if stay is not None and not stay.unfinished:
            interval_kg = stay.settling.track.interval_kg
            self._falls.learn(stay.final().kg or 0.0, lowest.fell_kg, lowest.kg - stay.zero_kg, interval_kg)
        if stay is None or stay.is_judged:
            return []
        stay.is_judged = True
        if stay.moved_kg is not None:
            more_kg = min(zero_kg - stay.zero_kg, stay.moved_kg)
        else:
            more_kg = lowest.kg - stay.zero_kg
            if lowest.rested_s < (RESTED_S if more_kg > 0 else SUNK_S):
                return []
        return [_once_more(stay, t)] if stay.bears(more_kg) else []

    def left(self, t: float, rest: Stay) -> list[ZeroMoved]:
        """Return, as what a stay left there went of itself, whether that makes the stay's grade worse.

        Nothing that lies there does: it stood beside what was weighed, and either may be the animal.
        """
        stay = self._previous
        stood = rest.lingers and rest.was_heavy and rests(rest.settling.track.bins(), STOOD_BINS, STOOD)
        return [_once_more(stay, t)] if stay and stood and stay.limit("poor") else []

    @property
    def known(self) -> Known:
        """What the stays that are over tell of the next."""
        heaviest_kg = max(self._mob) if len(self._mob) >= FEW else None
        leans = len(self._leaned) >= LEAN_FEW and sum(self._leaned) >= LEANS * len(self._leaned)
        return Known(self.usual_kg(), self._lags.lag, self._arrivals.bins, heaviest_kg, self._falls.rests, leans)

    def usual_kg(self) -> float | None:
        """Return what the mob weighs, None when too few were weighed or they are too different."""
        if len(self._mob) < FEW:
            return None
        low, middle, high = quantiles(self._mob, n=4)
        return middle if high - low <= ALIKE * middle else None

    def _close(self, stay: Stay) -> list[Ended]:
        if came_back(stay, self._previous):
            stay.flags.add(Flag.CAME_BACK)
        ended = stay.ended(set())
        self._previous = stay
        found = stay.final()
        if found.doubts and found.span_s >= LEANED_S:
            self._leaned.append(found.doubts.outside_share > LEANED)
        if not stay.unfinished and (kg := found.kg):
            self._lags.learn(stay.settling.track.bins(LOOKED_AT), kg, stay.settling.rested_kg)
        if ended.weight.kg is None or ended.weight.grade not in {"good", "fair"}:
            return [ended]
        if not stay.unfinished:
            self._arrivals.learn(stay.settling.track.bins(), found.kg or 0.0, found.span_s)
        half = paused(stay.settling.track.bins(), found.kg or 0.0)
        many, fair = len(self._mob) >= MANY, ended.weight.grade == "fair"
        times = 1.0 if half else RATHER if fair else OUTWEIGHS
        if (many or ((half or fair) and len(self._mob) >= FEW)) and ended.weight.kg > times * max(self._mob):
            stay.limit("poor")
        self._mob.append(ended.weight.kg)
        return [stay.ended(set())]


def _once_more(stay: Stay, t: float) -> ZeroMoved:
    ended = stay.ended(set())
    return ZeroMoved(stay.number, t, ended.weight, ended.flags)


def came_back(stay: Stay, before: Stay | None) -> bool:
    """Return whether a stay is that of the animal before, come on again."""
    if before is None or stay.on - before.off > CAME_BACK_S:
        return False
    kg, former = stay.final(), before.final()
    if kg.kg is None or former.kg is None or former.span_s < 1.0:
        return before.settled is None
    return abs(kg.kg - former.kg) <= max(SAME * kg.kg, stay.settling.track.interval_kg)
