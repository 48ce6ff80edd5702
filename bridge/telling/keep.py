"""No task of the daemon dies of anything: one rule for all of them.

    works --(raises, whatever it is, or is cancelled from within)--> told once --(a wait that grows)--> works
    works --(for STEADY_S)--> the trouble is over

A mistake of ours in one corner, or a file that nobody thought of, must not end the weighing, nor any other task.  What
it was is said as a trouble and logged with its place; what is done again in vain is said once.
"""

import asyncio
import traceback
from collections.abc import Awaitable, Callable, Coroutine
from pathlib import Path
from typing import Any

import structlog

from neckyoke.bridge.telling.alerts import Troubles

FIRST_S, LONGEST_S = 0.5, 30.0
"""The waits before a task is begun again: each twice the one before."""
STEADY_S = 10.0
"""What has gone well for so long is well again."""


def mistake(error: BaseException) -> str:
    """Describe an error that nobody thought of, and where it is."""
    frames = traceback.extract_tb(error.__traceback__)
    place = f" ({Path(frames[-1].filename).name}:{frames[-1].lineno})" if frames else ""
    return f"neckyoke made a mistake here and tries again; please report it: {repr(error)[:300]}{place}."


async def keep(
    name: str,
    work: Callable[[], Coroutine[Any, Any, None]],
    troubles: Troubles,
    lets_pass: tuple[type[Exception], ...] = (),
) -> None:
    """Do a task's work until it returns, and again when it raises.  Cancelled, it cancels the work.

    `lets_pass` are raised: they are for whoever waits for this task.
    """
    about, wait_s = f"task-{name.replace(' ', '-')}", FIRST_S
    while True:
        working = asyncio.create_task(work(), name=name)
        try:
            if not (await asyncio.wait({working}, timeout=STEADY_S))[0]:
                troubles.end(about, f"{name} works again.")
                wait_s = FIRST_S
                await asyncio.wait({working})
        finally:
            working.cancel()
            await asyncio.gather(working, return_exceptions=True)
        error = asyncio.CancelledError("it was cancelled") if working.cancelled() else working.exception()
        if error is None:
            troubles.end(about, f"{name} works again.")
            return
        if isinstance(error, lets_pass):
            raise error
        structlog.get_logger().error("a task failed", task=name, exc_info=error)
        troubles.begin(about, f"{name}: {mistake(error)}")
        await asyncio.sleep(wait_s)
        wait_s = min(2 * wait_s, LONGEST_S)


class Guard:
    """The same rule for what is called and not awaited: what it raises is said, and whoever called goes on."""

    def __init__(self, troubles: Troubles, now: Callable[[], float]) -> None:
        self._troubles, self._now = troubles, now
        self._failed_at: dict[str, float] = {}

    def __call__(self, name: str, act: Callable[[], None]) -> None:
        """Do it.  What it did before it raised stands."""
        about = f"task-{name.replace(' ', '-')}"
        try:
            act()
        except Exception as error:  # noqa: BLE001  # that is the rule
            if name not in self._failed_at:
                structlog.get_logger().error("a step failed", step=name, exc_info=error)
            self._failed_at[name] = self._now()
            self._troubles.begin(about, f"{name}: {mistake(error)}")
        else:
            if self._now() - self._failed_at.get(name, self._now()) >= STEADY_S:
                del self._failed_at[name]
                self._troubles.end(about, f"{name} works again.")


def in_background(
    tasks: set["asyncio.Task[None]"], name: str, work: Callable[[], Awaitable[None]], troubles: Troubles
) -> None:
    """Do something once, without waiting for it.  What it raises is said; `tasks` holds it meanwhile."""

    async def once() -> None:
        about = f"task-{name.replace(' ', '-')}"
        try:
            await work()
        except Exception as error:  # noqa: BLE001  # that is the rule
            structlog.get_logger().error("a task failed", task=name, exc_info=error)
            troubles.begin(about, f"{name}: {mistake(error)}")
        else:
            troubles.end(about, f"{name} works again.")

    task = asyncio.create_task(once(), name=name)
    tasks.add(task)
    task.add_done_callback(tasks.discard)
