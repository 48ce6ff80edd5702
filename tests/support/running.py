"""Running coroutines in tests: complaints of the event loop are failures, waits have deadlines."""

import asyncio
import time
from collections.abc import Callable, Coroutine
from typing import Any, TypeVar

import pytest

T = TypeVar("T")


def run(coroutine: Coroutine[Any, Any, T], deadline_s: float = 300.0) -> T:
    """Run a test's coroutine; whatever the loop complains of (lost exceptions, failed callbacks) fails the test."""
    complaints: list[str] = []

    async def guarded() -> T:
        loop = asyncio.get_running_loop()
        loop.set_exception_handler(
            lambda _, context: complaints.append(f"{context['message']}: {context.get('exception')!r}")
        )
        async with asyncio.timeout(deadline_s):
            return await coroutine

    result = asyncio.run(guarded())
    assert complaints == []
    return result


async def until(condition: Callable[[], bool], what: str, deadline_s: float = 120.0) -> None:
    """Wait for a condition while the loop runs, with a deadline."""
    end = time.monotonic() + deadline_s
    while not condition():
        if time.monotonic() > end:
            pytest.fail(f"not within {deadline_s} s: {what}")
        await asyncio.sleep(0.01)
