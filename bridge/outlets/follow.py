"""What every outlet needs to follow the journal: waiting that can be broken off, and waits that grow."""

import asyncio
import contextlib
from collections.abc import Awaitable, Callable
from typing import Any

from neckyoke.bridge.journal.journal import Journal

NOTHING_LOST = "No event is lost: they wait in the journal."


class OutletError(Exception):
    """A far side cannot be had, or did not take what it was given.  The text says why and what to do.

    `slow` means that trying again soon cannot help: a person has to change something.
    """

    def __init__(self, text: str, *, slow: bool = False) -> None:
        super().__init__(text)
        self.slow = slow


class Backoff:
    """Waits between attempts: each twice the one before, up to the longest, each shortened by chance up to a half.

    Chance keeps the boxes of one farm from coming back to their broker at the same moment.  `chance` gives a number in
    [0, 1).
    """

    def __init__(self, first_s: float, longest_s: float, chance: Callable[[], float]) -> None:
        self._first_s = first_s
        self._longest_s = longest_s
        self._chance = chance
        self._next_s = first_s

    def wait_s(self) -> float:
        """Return the next wait in seconds."""
        wait_s = self._next_s
        self._next_s = min(self._next_s * 2, self._longest_s)
        return wait_s * (1 - self._chance() / 2)

    def slow_down(self) -> None:
        """Take the longest wait from now on: trying again soon cannot help."""
        self._next_s = self._longest_s

    def reset(self) -> None:
        """Begin again with the first wait."""
        self._next_s = self._first_s


async def either(*waits: Awaitable[Any]) -> None:
    """Wait until the first of several is done; the others are cancelled, and done or not is seen from their causes."""
    tasks = [asyncio.ensure_future(wait) for wait in waits]
    try:
        await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in tasks:
            task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await asyncio.gather(*tasks, return_exceptions=True)


async def more(journal: Journal, position: int, stopping: asyncio.Event) -> bool:
    """Wait for an event beyond a position: True when there is one, False when it is time to stop and there is none."""
    if journal.last <= position and not stopping.is_set():
        await either(journal.beyond(position), stopping.wait())
    return journal.last > position


async def pause(seconds: float, stopping: asyncio.Event) -> None:
    """Wait so long, or until it is time to stop."""
    with contextlib.suppress(TimeoutError):
        await asyncio.wait_for(stopping.wait(), seconds)
