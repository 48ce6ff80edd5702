"""The event that a broker does not take: found, set aside and said, so that what comes after it is delivered.

    window --(it hangs up on us, or says "too large")--> one at a time, from the first that is not acknowledged
    one at a time --(the same one again: said to be too large, or large and HANGS_UPS times)--> that one is a misfit
    one at a time --(it is acknowledged)--> window

A broker that goes away for other reasons makes no misfits: what is of the usual size is sent again for ever.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from neckyoke.bridge.outlets.mqtt.broker import BrokerError

LARGE = 8192
"""Bytes that no usual event has: one so large on which a broker hangs up again and again is too large for it."""
HANGS_UP = 3


@dataclass(slots=True)
class Misfits:
    """What is known of one broker's taste.  Events are meant by their sequence."""

    suspect: int = 0
    times: int = 0
    misfit: int = 0

    @property
    def careful(self) -> bool:
        """Whether to send one at a time, so that it shows which one is at fault."""
        return self.suspect > 0

    def acknowledged(self, sequence: int) -> None:
        """Learn that an event was taken, or set aside."""
        if sequence >= self.suspect:
            self.suspect = self.times = 0

    def lost(self, under_way: Sequence[tuple[int, int]], error: BrokerError) -> None:
        """Learn that the connection was lost with these events (sequence, bytes) under way."""
        if not under_way or not (error.too_large or error.hung_up):
            return
        first, size = under_way[0]
        self.times = self.times + 1 if first == self.suspect else 1
        self.suspect = first
        alone = len(under_way) == 1
        if alone and (error.too_large or (size >= LARGE and self.times >= HANGS_UP)):
            self.misfit = first
