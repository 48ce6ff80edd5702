"""Follows the journal to a far side of any kind: in order, at least once, from its own position.

    away --opened--> waiting --an event--> taking --taken--> waiting, the position moved
    away --not to be had--> a wait that grows --> away
                             taking --gone, slow, broken--> away, and the rest of the batch comes again
                                    --refused: a person has to change something--> away, the longest wait at once
                                    --this one event can never be taken--> told of, passed over; it is in the journal
                     waiting --what was opened is lost--> away

What a far side is, is a `Taker` (bridge/outlets/taker.py).  After a doubt events come again, and repeats fall away by
their ids or revisions.  Whatever is wrong is said once, and its end once it has been well for a while.
"""

import asyncio
import contextlib
import random
import time
from collections.abc import Callable

from neckyoke.bridge.events import Attention, Event
from neckyoke.bridge.journal.journal import Journal, JournalError
from neckyoke.bridge.outlets.follow import NOTHING_LOST, Backoff, OutletError, more, pause
from neckyoke.bridge.outlets.taker import Followed, Taker
from neckyoke.bridge.telling.alerts import Say, Troubles, unheard
from neckyoke.bridge.telling.keep import mistake
from neckyoke.bridge.telling.status import OutletStatus, PlatformView

REMEMBERED = 256
"""Events that may come again after a crash; the position is safe at least so often."""


class Follower:
    """One outlet.  `run` follows the journal until `stop`, which lets it give what is there first.

    `troubles` are those that the taker tells of too, where it has any of its own.
    """

    def __init__(
        self,
        name: str,
        taker: Taker,
        journal: Journal,
        *,
        say: Say = unheard,
        troubles: Troubles | None = None,
        now: Callable[[], float] = time.monotonic,
        chance: Callable[[], float] = random.random,
    ) -> None:
        self.name = name
        self.taker = taker
        self._journal, self._say = journal, say
        self._troubles = troubles or Troubles(say, now)
        self._about = f"outlet-{name}"
        self._backoff = Backoff(1.0, taker.longest_s, chance)
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
            if await self.taker.open():
                self._is_well()
            await self._follow_beside()
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
            await self.taker.close(stopped=self._stopping.is_set())
        return True

    async def _follow_beside(self) -> None:
        """Follow the journal until stopped, or what goes on beside fails; what the events met with is told first."""
        following = asyncio.create_task(self._follow())
        beside = asyncio.create_task(self.taker.beside())
        try:
            await asyncio.wait({following, beside}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in (following, beside):
                task.cancel()
            await asyncio.gather(following, beside, return_exceptions=True)
        for task in (following, beside):
            if not task.cancelled():
                task.result()  # raises what it raised

    async def _follow(self) -> None:
        while await more(self._journal, self._position, self._stopping):
            rows = await self._journal.read(self._position, self.taker.batch)
            self.taker.begun = self._position > 0
            if rows[-1][0] - self._journal.kept_position(self.name) > REMEMBERED:
                await self._journal.set_position(self.name, self._position)
            async with contextlib.aclosing(self.taker.take(rows)) as taken:
                async for sequence, why in taken:
                    self._position = sequence
                    self._is_well()
                    if why:
                        self._pass_over(sequence, why)
                    else:
                        self._delivered += 1
            self._journal.note_position(self.name, self._position)

    def _pass_over(self, sequence: int, why: str) -> None:
        self._set_aside += 1
        text = f"Event {sequence} was passed over: {why}. It is in the journal and in events files."
        self._say(Attention(station=None, about=f"{self._about}-set-aside", text=text, over=True, lasted_s=0.0))

    def _is_well(self) -> None:
        if self._well:
            return
        self._well = True
        if not self.taker.steady_s:
            self._is_steady()
        else:
            self._steady = asyncio.get_running_loop().call_later(self.taker.steady_s, self._is_steady)

    def _not_well(self) -> None:
        self._well = False
        if self._steady is not None:
            self._steady.cancel()
            self._steady = None

    def _is_steady(self) -> None:
        self._backoff.reset()
        for about in (self._about, f"{self._about}-refused"):
            self._troubles.end(about, f"Events go to {self.taker.where} again.")

    async def stop(self, grace_s: float = 5.0) -> None:
        """Let it give what is in the journal, for at most `grace_s`.  Then the task of `run` can be cancelled."""
        self._stopping.set()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._ended.wait(), grace_s)

    def show(self, station: str, view: PlatformView) -> None:
        """Show a platform as it is now, where that has a place."""
        self.taker.show(station, view)

    def give_unsafe(self, event: Event) -> None:
        """Deliver at once an event that the journal cannot take, where that helps; it is delivered again when safe."""
        self.taker.give_unsafe(event)

    def health(self) -> OutletStatus:
        """Return what matters of this outlet now."""
        backlog = max(0, self._journal.last - self._position)
        trouble = self._troubles.standing
        return self.taker.status(Followed(self._position, backlog, self._delivered, self._set_aside, trouble))
