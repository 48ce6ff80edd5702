"""Follows the journal to a far side that takes a batch at a time: in order, at least once, from its own position.

    waiting --an event--> taking --taken--> waiting, the position moved
                              --away, slow, broken--> a wait that grows --> taking the same batch again
                              --refused: a person has to change something--> the longest wait --> the same batch again
                              --this one event can never be taken--> told of, passed over; it stays in the journal

What a far side is, is a `Taker`.  It takes all of a batch or says that it did not; after a doubt the batch comes again,
and repeats fall away by the events' ids or revisions.  Whatever is wrong is said once, and its end once it has been
well for `STEADY_S`.
"""

import asyncio
import contextlib
import random
import time
from collections.abc import Callable, Sequence
from typing import Protocol, TypeAlias

from neckyoke.bridge.events import Attention, Event
from neckyoke.bridge.journal.journal import Journal, JournalError
from neckyoke.bridge.outlets.follow import NOTHING_LOST, Backoff, OutletError, more, pause
from neckyoke.bridge.telling.alerts import Say, Troubles, unheard
from neckyoke.bridge.telling.keep import mistake
from neckyoke.bridge.telling.status import FarKind, FarStatus, PlatformView

STEADY_S = 10.0
REMEMBERED = 256
"""Events that may come again after a crash; the position is safe at least so often."""

Row: TypeAlias = tuple[int, str]
"""An event's sequence, and the event as one line of JSON."""


class Taker(Protocol):
    """A far side.  Any method may raise OutletError; after that, `close` and begin anew."""

    batch: int
    """Events that it is given at once, at most."""

    async def take(self, rows: Sequence[Row]) -> list[tuple[int, str]]:
        """Take all of a batch, or raise; give those that it can never take, each by its sequence and why."""

    async def try_out(self, body: str) -> None:
        """Go there with a test event that is no weighing.  Raises as `take` does."""

    async def close(self) -> None:
        """Let go of the connection, if there is one.  Never raises."""


class Follower:
    """One far side.  `run` follows the journal until `stop`, which lets it give what is there first."""

    def __init__(
        self,
        name: str,
        kind: FarKind,
        taker: Taker,
        journal: Journal,
        *,
        where: str,
        say: Say = unheard,
        now: Callable[[], float] = time.monotonic,
        chance: Callable[[], float] = random.random,
    ) -> None:
        self.name = name
        self._kind, self._taker, self._journal, self._where, self._say = kind, taker, journal, where, say
        self._troubles = Troubles(say, now)
        self._about = f"outlet-{name}"
        self._backoff = Backoff(1.0, 60.0, chance)
        self._stopping, self._ended = asyncio.Event(), asyncio.Event()
        self._position = journal.position(name)
        self._delivered = self._set_aside = 0
        self._well = False
        self._steady: asyncio.TimerHandle | None = None

    async def run(self) -> None:
        """Follow the journal until stopped.  Whatever is wrong with the far side is said once and tried again."""
        self._ended.clear()
        try:
            while not await self._attempt():
                if self._stopping.is_set():
                    return
                await pause(self._backoff.wait_s(), self._stopping)
        finally:
            self._not_well()
            self._ended.set()

    async def _attempt(self) -> bool:
        """Follow the journal until stopped: False when something went wrong."""
        try:
            await self._follow()
        except (OutletError, JournalError) as error:
            self._not_well()
            slow = getattr(error, "slow", False)
            if slow:
                self._backoff.slow_down()
            self._troubles.begin(f"{self._about}-refused" if slow else self._about, f"{error}. {NOTHING_LOST}")
            return False
        except Exception as error:  # noqa: BLE001  # said, and tried again
            self._not_well()
            self._troubles.begin(self._about, f"{mistake(error)} {NOTHING_LOST}")
            return False
        finally:
            with contextlib.suppress(JournalError):
                self._journal.note_position(self.name, self._position)
            await self._taker.close()
        return True

    async def _follow(self) -> None:
        while await more(self._journal, self._position, self._stopping):
            rows = await self._journal.read(self._position, self._taker.batch)
            misfits = await self._taker.take(rows)
            for sequence, why in misfits:
                self._pass_over(sequence, why)
            self._position = rows[-1][0]
            self._delivered += len(rows) - len(misfits)
            self._journal.note_position(self.name, self._position)
            if self._position - self._journal.kept_position(self.name) > REMEMBERED:
                await self._journal.set_position(self.name, self._position)
            self._is_well()

    def _pass_over(self, sequence: int, why: str) -> None:
        self._set_aside += 1
        text = f"Event {sequence} was passed over: {why}. It is in the journal and in events files."
        self._say(Attention(station=None, about=f"{self._about}-set-aside", text=text, over=True, lasted_s=0.0))

    def _is_well(self) -> None:
        if not self._well:
            self._well = True
            self._steady = asyncio.get_running_loop().call_later(STEADY_S, self._is_steady)

    def _not_well(self) -> None:
        self._well = False
        if self._steady is not None:
            self._steady.cancel()
            self._steady = None

    def _is_steady(self) -> None:
        self._backoff.reset()
        for about in (self._about, f"{self._about}-refused"):
            self._troubles.end(about, f"Events go to {self._where} again.")

    async def stop(self, grace_s: float = 5.0) -> None:
        """Let it give what is in the journal, for at most `grace_s`.  Then the task of `run` can be cancelled."""
        self._stopping.set()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._ended.wait(), grace_s)

    def show(self, station: str, view: PlatformView) -> None:
        """Do nothing: what is live has no place there."""

    def give_unsafe(self, event: Event) -> None:
        """Do nothing: it comes when the journal has it."""

    def health(self) -> FarStatus:
        """Return what matters of this outlet now."""
        return FarStatus(
            kind=self._kind,
            connected=not self._troubles.standing,
            position=self._position,
            backlog=max(0, self._journal.last - self._position),
            delivered=self._delivered,
            set_aside=self._set_aside,
            trouble=self._troubles.standing,
        )
