"""An event loop whose clock leaps: when nothing is ready and no thread works, it is the next appointed time at once.

For days on which nothing answers: a peer that needs a moment is not waited for.
"""

import asyncio
import selectors
from collections.abc import Coroutine
from typing import Any, TypeVar

T = TypeVar("T")


class _Selector(selectors.DefaultSelector):
    """Never waits but for threads, and tells how much waiting it saved."""

    def __init__(self) -> None:
        super().__init__()
        self.saved_s = 0.0
        self.working: set[asyncio.Future[Any]] = set()

    def select(self, timeout: float | None = None) -> Any:
        """Return what is ready; wait for it only while a thread works or nothing is appointed."""
        if self.working or timeout is None:
            return super().select(timeout)
        ready = super().select(0)
        if not ready:
            self.saved_s += timeout
        return ready


class LeapingLoop(asyncio.SelectorEventLoop):
    """The loop; see the module."""

    def __init__(self) -> None:
        self._leaping = _Selector()
        super().__init__(self._leaping)

    def time(self) -> float:
        """Return its time: real time and what was leapt over."""
        return super().time() + self._leaping.saved_s

    def run_in_executor(self, executor: Any, func: Any, *args: Any) -> asyncio.Future[Any]:  # type: ignore[override]
        """Hand work to a thread, and remember it."""
        future = super().run_in_executor(executor, func, *args)
        self._leaping.working.add(future)
        future.add_done_callback(self._leaping.working.discard)
        return future

    async def shutdown_default_executor(self, timeout: float | None = None) -> None:  # noqa: ARG002, ASYNC109
        """Wait for the threads however long: a deadline would be leapt to (Python 3.12 and later set one)."""
        await super().shutdown_default_executor()


def run_leaping(coroutine: Coroutine[Any, Any, T]) -> T:
    """Run a coroutine on such a loop."""
    with asyncio.Runner(loop_factory=LeapingLoop) as runner:
        return runner.run(coroutine)
