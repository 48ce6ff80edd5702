"""The clerk for a weighing of long ago, in the place of the one for those at hand."""

from dataclasses import dataclass

from neckyoke.bridge.events import Event
from neckyoke.bridge.job.clerk import Clerk, Known


@dataclass(frozen=True, slots=True)
class Afterwards:
    """A clerk who fills a weighing of long ago: see `Clerk.afterwards`."""

    clerk: Clerk
    other: bool
    said_no_more: frozenset[str] = frozenset()

    def fill(self, event: Event, who: Known | None = None) -> Event:
        """Fill it in."""
        return self.clerk.afterwards(event, who, other=self.other, said_no_more=self.said_no_more)

    def listed(self, number: int, tag: str) -> str | None:
        """See `Clerk.listed`."""
        return self.clerk.listed(number, tag)

    def mob(self, number: int) -> str | None:
        """See `Clerk.mob`."""
        return self.clerk.mob(number)


@dataclass(frozen=True, slots=True)
class Redated(Afterwards):
    """A clerk who fills a weighing of long ago whose time was put right: see `Clerk.redated`."""

    other: bool = False

    def fill(self, event: Event, who: Known | None = None) -> Event:
        """Fill it in."""
        return self.clerk.redated(event, who)
