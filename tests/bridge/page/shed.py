"""A whole box to look at: the daemon's insides by hand, in a thread, and its real page on a real port."""

import asyncio
import threading
import time
from collections.abc import Coroutine
from contextlib import AsyncExitStack
from pathlib import Path
from typing import Any, Self, TypeVar

from neckyoke.bridge.events import Weighing
from neckyoke.bridge.page import access
from neckyoke.bridge.page.app import Page
from neckyoke.bridge.page.serve import serve
from neckyoke.simulators.yard import Yard
from tests.bridge.page.yard import CODE
from tests.support.by_hand import ByHand, by_hand

PAGE = '[page]\nlisten = "127.0.0.1:0"\n'
QUICK = 30.0
"""Times as fast as a person a test touches: the page's limits are of what a person can ask in a second."""
T = TypeVar("T")


class Shed:
    """A box with a page.  Animals come when the test lets them; use as a context manager."""

    def __init__(self, folder: Path, head: str = "", *, later_h: float = 0.0) -> None:
        self.folder = folder
        self._head, self._later_h = head, later_h
        self.loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self.loop.run_forever, daemon=True)
        self._open = AsyncExitStack()
        self.box: ByHand
        self.page: Page

    def __enter__(self) -> Self:
        self._thread.start()
        self.wait(self._begin())
        return self

    def __exit__(self, *_: object) -> None:
        self.wait(self._end())
        self.loop.call_soon_threadsafe(self.loop.stop)
        self._thread.join(10)
        self.loop.close()

    async def _begin(self) -> None:
        self.box = await self._open.enter_async_context(
            by_hand(self.folder, PAGE, head=self._head, sheet=None, later_h=self._later_h)
        )
        service = self.box.service
        access.keep(service.config.state_path("page.code"), CODE)
        page = await serve(
            service.config, service.hub, service.journal, service.desk.ask, service.status, service.pipeline.say,
            service.pipeline.site.keeper.book, lambda: QUICK * time.monotonic(),
        )  # fmt: skip
        assert page is not None
        self.page = page

    async def _end(self) -> None:
        await self.page.stop()
        await self._open.aclose()

    @property
    def port(self) -> int:
        """Where the page is."""
        return self.page.port

    @property
    def url(self) -> str:
        """The address of the page."""
        return f"http://127.0.0.1:{self.port}/"

    def wait(self, work: Coroutine[Any, Any, T]) -> T:
        """Run something on the box's loop and wait for it."""
        return asyncio.run_coroutine_threadsafe(work, self.loop).result(60)

    def weigh(self, yard: Yard, count: int, first: int = 0) -> None:
        """Let so many animals of a yard be weighed, from one on; the next has not set a foot on yet."""
        for at, stay in enumerate(yard.truth[first : first + count], first + 1):
            next_t = yard.truth[at].on_t - 0.5 if at < len(yard.truth) else stay.off_t + 6.0
            self.wait(self.box.to(yard, min(stay.off_t + 6.0, next_t)))

    def say(self, kind: str, **words: Any) -> dict[str, Any]:
        """Ask as a command does."""
        return self.wait(self.box.say(kind, **words))

    def weighings(self) -> dict[int, Weighing]:
        """Return the newest revision of each weighing by its number."""
        return self.wait(self.box.weighings())
