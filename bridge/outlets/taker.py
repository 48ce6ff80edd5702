"""What every far side of an outlet is to its follower (bridge/outlets/follower.py), whatever kind it is."""

import asyncio
from abc import ABC, abstractmethod
from collections.abc import AsyncGenerator, Sequence
from typing import Any, NamedTuple, TypeAlias

from neckyoke.bridge.events import Event
from neckyoke.bridge.telling.status import FarKind, FarStatus, OutletStatus, PlatformView

Row: TypeAlias = tuple[int, str]
"""An event's sequence, and the event as one line of JSON."""
Taken: TypeAlias = AsyncGenerator[tuple[int, str], None]
"""Sequences in order, each with "" when it is taken, else why it never can be: then it is told of and passed over."""


class Followed(NamedTuple):
    """How far a follower is, as its far side's status tells it."""

    position: int
    backlog: int
    delivered: int
    set_aside: int
    trouble: dict[str, str]


class Taker(ABC):
    """A far side.  `open`, `take` and `beside` may raise OutletError; after that, `close` and begin anew."""

    where = ""
    """What a person calls it."""
    batch = 200
    """Events that it is given at once, at most."""
    steady_s = 10.0
    """A trouble is over when it has been well for so long: one that comes and goes is one trouble."""
    longest_s = 60.0
    """The longest wait between two attempts."""
    begun = False
    """Whether it has been given anything, ever: set by its follower."""

    async def open(self) -> bool:
        """Make what is needed before the first event; True when this alone shows that all is well."""
        return False

    @abstractmethod
    def take(self, rows: Sequence[Row]) -> Taken:
        """Take a batch in order: yield each event as soon as it is safe there, or can never be."""

    async def beside(self) -> None:
        """Do what goes on while events are taken; ends only by raising, when what was opened is lost."""
        await asyncio.Event().wait()

    @abstractmethod
    async def close(self, *, stopped: bool) -> None:
        """Let go of what `open` or `take` made, if anything; `stopped` by us, or given up.  Never raises."""

    def show(self, station: str, view: PlatformView) -> None:  # noqa: B027  # most have none
        """Show a platform as it is now, where that has a place."""

    def give_unsafe(self, event: Event) -> None:  # noqa: B027
        """Deliver at once an event that the journal cannot take, where that helps; it comes again when safe."""

    @abstractmethod
    def status(self, followed: Followed) -> OutletStatus:
        """Return its figures, with those of its follower."""


class FarSide(Taker):
    """A server or database that takes batches of events, and nothing else."""

    kind: FarKind

    @abstractmethod
    async def try_out(self, body: str) -> None:
        """Go there with a test event that is no weighing.  Raises as `take` does."""

    def status(self, followed: Followed) -> FarStatus:
        """Return its figures."""
        figures: dict[str, Any] = followed._asdict()
        return FarStatus(kind=self.kind, connected=not followed.trouble, **figures)


async def all_of(taken: Taken) -> list[tuple[int, str]]:
    """Return all that is yielded of one batch."""
    return [one async for one in taken]
