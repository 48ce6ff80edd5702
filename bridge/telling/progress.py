"""How far something long is: from its third second on, one changing line on a terminal; nothing anywhere else."""

import asyncio
import sys
import time
from collections.abc import Awaitable, Callable, Iterable, Iterator
from typing import TextIO, TypeVar

from neckyoke.bridge.telling.plain import drawing

T = TypeVar("T")

PATIENCE_S = 2.0
"""What ends sooner shows nothing."""
EVERY_S = 0.2


class Progress:
    """Called with what is done, and of how much where that is known; `end` takes the line away."""

    def __init__(self, what: str, out: TextIO | None = None, now: Callable[[], float] = time.monotonic) -> None:
        self._what, self._now = what, now
        self._out = drawing(sys.stderr if out is None else out)
        self._due = now() + PATIENCE_S if self._out.isatty() else float("inf")
        self._shown = False

    def __call__(self, done: int, of: int | None = None) -> None:
        """Show how far it is, when it is time to."""
        if (now := self._now()) < self._due:
            return
        self._due = now + EVERY_S
        far = f"{done:,}" if of is None else f"{100 * done // max(of, 1)} %"
        self._out.write(f"\r\x1b[K{self._what}: {far}")
        self._out.flush()
        self._shown = True

    def end(self) -> None:
        """Take the line away."""
        if self._shown:
            self._out.write("\r\x1b[K")
            self._out.flush()
            self._shown = False

    def along(self, items: Iterable[T]) -> Iterator[T]:
        """Yield items, and show how many there were."""
        try:
            for number, item in enumerate(items, 1):
                self(number)
                yield item
        finally:
            self.end()

    async def while_waiting(self, work: Awaitable[T], seconds: float) -> T:
        """Wait for work that takes about so many seconds, and show how many of them have gone by."""
        began = self._now()
        working = asyncio.ensure_future(work)
        try:
            while not (await asyncio.wait([working], timeout=EVERY_S))[0]:
                self(min(int(self._now() - began), int(seconds)), max(int(seconds), 1))
            return working.result()
        finally:
            working.cancel()
            self.end()
