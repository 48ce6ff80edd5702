"""Who stood beside an animal all the while: no readings of its own stay tell, those before it and after it do.

Between two animals a platform shows for a moment how little stands on it.  Where more was left both before an animal
and after it than is usual here, a person may stand there, and be in the weight; where animals overlap, or the display
is slow, it is usual that something is left, and tells nothing, but of one that is far heavier than its mob, and but
where gap after gap ends at the same: that is no foot's weight, but a gate's that was hung meanwhile.  What came
to rest after it may have come while it stepped on, seen by nobody.  Only the grade is lowered by all that: what stood
there is not known well enough to be taken off.

What the last gaps all came down to tells one thing more, whatever the reason: as little as that is on this platform
when one animal has left and the next has not come.  Nothing is weighed by it, but the next one is told by it (`dip`).
"""

import math
from collections import deque
from statistics import quantiles

from neckyoke.bridge.station.platform.empty.tail import Lowest

KEPT, FEW = 24, 4
"""Gaps that tell what is usual, the last ones; with fewer a platform is bare in a gap."""
WIDE = 2.0
"""What is usual goes beyond the middle one by so many times what lies between that and the lower quarter."""
FLOOR_OF, FLOOR, FLOOR_INTERVALS = 9, 4, 4
"""Of so many last gaps so many ended at the same, within so many intervals: no feet are so steady, and something lies
there that came since the platform was seen empty.  Then nothing above nothing is usual."""
LAST_GAPS = 3
"""What so many last gaps all came down to, none further, is as little as this platform shows between two animals."""
PERSON_KG = (30.0, 80.0)
"""A light person and a heavy one (from memory)."""


class Company:
    """What is left on the platform between animals: `lowest`, since one last stood there, as shown."""

    def __init__(self) -> None:
        self.lowest = Lowest()
        self._lows: deque[float] = deque(maxlen=KEPT)
        self._before_kg = self._usual_kg = 0.0

    def comes(self, zero_kg: float, interval_kg: float) -> float:
        """Learn that a stay begins, and what the empty platform shows; return what the last gaps all came down to."""
        self._before_kg, self._usual_kg = self.lowest.kg - zero_kg, self._usual(interval_kg)
        self._lows.append(max(0.0, self._before_kg))
        self.lowest.forget()
        lately = list(self._lows)[-LAST_GAPS:]
        return min(lately) if len(lately) == LAST_GAPS else 0.0

    def goes(self, zero_kg: float, heavier_kg: float | None, interval_kg: float) -> float:
        """Return, as it ends, what may have stood there all the while beside it; 0 where nothing speaks for that.

        `heavier_kg` is by how much it outweighs its mob, None where that is not known.
        """
        low_kg = self.lowest.kg - zero_kg
        if self.lowest.rested_kg is None or low_kg < PERSON_KG[0]:
            low_kg = min(low_kg, self._before_kg)
        heavy = heavier_kg is not None and heavier_kg > min(low_kg, PERSON_KG[1]) / 2
        usual_kg = 0.0 if heavy else self._usual_kg
        return low_kg if usual_kg + interval_kg < low_kg < math.inf else 0.0

    def _usual(self, interval_kg: float) -> float:
        lately = list(self._lows)[-FLOOR_OF:]
        floor_kg = min(lately, default=0.0)
        alike = sum(low <= floor_kg + FLOOR_INTERVALS * interval_kg for low in lately)
        if len(self._lows) < FEW or (floor_kg > PERSON_KG[0] and alike >= FLOOR):
            return 0.0
        low, middle, _ = quantiles(self._lows, n=4)
        return middle + WIDE * (middle - low)
