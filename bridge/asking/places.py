"""How many may be connected: in all and from one address, so that nobody's silence locks others out.

A connection that has asked for something is busy; one that has not, or whose answer is complete, waits.  When the
places are taken, the one that waits longest is hung up on: of the newcomer's own address when that has all of its
places, and else of the address that has most.  A newcomer is turned away only where nobody waits.  So a thousand silent
connections cost a thousand handshakes and keep nobody out.

Descriptors are shared with devices, outlets and the journal: `share` gives what doors for people may use of them.
"""

import resource
from collections.abc import Callable
from dataclasses import dataclass, field


def share(most: int) -> int:
    """Return how many connections to take: `most`, or a quarter of the descriptors that this process may have."""
    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return most if soft == resource.RLIM_INFINITY else max(8, min(most, soft // 4))


@dataclass(eq=False)
class Place:
    """One connection's place.  `waiting` while it has asked for nothing."""

    address: str
    hang_up: Callable[[], object]
    waiting: bool = True


@dataclass
class Places:
    """All places at one door: `most` in all, `most_each` from one address."""

    most: int
    most_each: int
    turned_away: int = 0
    _taken: dict[str, dict[Place, None]] = field(default_factory=dict)
    """By address, in the order they came."""

    @property
    def taken(self) -> int:
        """How many are connected."""
        return sum(map(len, self._taken.values()))

    def enter(self, address: str, hang_up: Callable[[], object]) -> Place | None:
        """Return a place for a newcomer; None when there is none, not even one of somebody who waits."""
        here = self._taken.get(address, {})
        if len(here) >= self.most_each:
            from_whom = [here]
        elif self.taken >= self.most:
            from_whom = sorted(self._taken.values(), key=len, reverse=True)
        else:
            return self._sit(Place(address, hang_up))
        idle = next((place for places in from_whom for place in places if place.waiting), None)
        if idle is None:
            self.turned_away += 1
            return None
        self.leave(idle)
        idle.hang_up()
        return self._sit(Place(address, hang_up))

    def _sit(self, place: Place) -> Place:
        self._taken.setdefault(place.address, {})[place] = None
        return place

    def leave(self, place: Place) -> None:
        """Give a place back; once more does nothing."""
        here = self._taken.get(place.address, {})
        here.pop(place, None)
        if not here:
            self._taken.pop(place.address, None)
