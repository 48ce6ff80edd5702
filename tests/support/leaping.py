"""An event loop whose clock leaps: when nothing happens for a moment, it is the next appointed time at once."""

import asyncio
import selectors
from collections.abc import Coroutine
from typing import Any, TypeVar

T = TypeVar("T")

MOMENT_S = 0.001
"""Real time that sockets are given before the clock leaps."""


class _Selector(selectors.DefaultSelector):
    """Waits a moment at most, and tells how much waiting it saved; while threads work, it does not leap."""

    def __init__(self) -> None:
        super().__init__()
        self.saved_s = 0.0
        self.working: set[asyncio.Future[Any]] = set()

    def select(self, timeout: float | None = None) -> Any:
        """Wait for sockets, or for a moment."""
        if self.working or timeout is None or timeout <= MOMENT_S:
            return super().select(timeout)
        ready = super().select(MOMENT_S)
        if not ready:
            self.saved_s += timeout - MOMENT_S
        return ready


class LeapingLoop(asyncio.SelectorEventLoop):
    """The loop; see the module."""

    def __init__(self) -> None:
        self._leaping = _Selector()
        super().__init__(self._leaping)

    def time(self) -> float:
        """Give its time: real time and what was leapt over."""
        return super().time() + self._leaping.saved_s

    def run_in_executor(self, executor: Any, func: Any, *args: Any) -> asyncio.Future[Any]:  # type: ignore[override]
        """Hand work to a thread, and remember it."""
        future = super().run_in_executor(executor, func, *args)
        self._leaping.working.add(future)
        future.add_done_callback(self._leaping.working.discard)
        return future


def run_leaping(coroutine: Coroutine[Any, Any, T]) -> T:
    """Run a coroutine on such a loop."""
    with asyncio.Runner(loop_factory=LeapingLoop) as runner:
        return runner.run(coroutine)
