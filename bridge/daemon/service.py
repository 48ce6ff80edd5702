"""One configuration as running tasks: links -> site -> journal -> outlets, and the doors for people.

Made whole by bridge/daemon/build.py.  Ending goes the way of the data: links first, then the open stays, then the
journal, then the outlets.
"""

import asyncio
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import structlog

from neckyoke.bridge.asking.socket import Control
from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.daemon.pace import Pace
from neckyoke.bridge.daemon.pipeline import Pipeline
from neckyoke.bridge.daemon.request_handler import Desk
from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.links.supervise import Supervisor
from neckyoke.bridge.outlets.make import Outlet
from neckyoke.bridge.page.serve import serve
from neckyoke.bridge.telling.fanout import Hub
from neckyoke.bridge.telling.status import Status

STOPPED = "stopped"
"""What the log of troubles says of a run that ended well."""
GRACE_S = 5.0
"""How long an outlet may take at the end to give what is left; the rest waits in the journal."""


@dataclass
class Service:
    """The daemon.  `run` returns when `stop` is set and everything has been put away.

    `status` gives the figures that tell how it is; `before` is the last that was noted of the run before.
    """

    config: Config
    pipeline: Pipeline
    supervisors: Mapping[str, Supervisor]
    outlets: Mapping[str, Outlet]
    desk: Desk
    pace: Pace
    control: Control
    status: Callable[[], Status]
    before: Mapping[str, Any] | None

    @property
    def clock(self) -> WallClock:
        """The clock of this run."""
        return self.pipeline.clock

    @property
    def journal(self) -> Journal:
        """The open journal."""
        return self.pipeline.journal

    @property
    def hub(self) -> Hub:
        """Who watches."""
        return self.pipeline.hub

    async def run(self, stop: asyncio.Event, ready: Callable[[], None] = lambda: None) -> None:
        """Run until `stop` is set.  Raises ControlError when it cannot even begin; the journal is closed then too."""
        log = structlog.get_logger()
        pipeline = self.pipeline
        try:
            await self.control.start()
        except BaseException:
            await self.journal.close()
            raise
        page = await serve(self.config, self.hub, self.journal, self.desk.ask, self.status, pipeline.say)
        followers = [asyncio.create_task(outlet.run(), name=f"outlet {name}") for name, outlet in self.outlets.items()]
        links = [asyncio.create_task(one.run(), name=f"link {name}") for name, one in self.supervisors.items()]
        others = [asyncio.create_task(self.pace.tick()), asyncio.create_task(self.pace.watch_clock())]
        if pipeline.capture is not None:
            others.append(asyncio.create_task(pipeline.capture.run()))
        log.info("listening", site=self.config.site, links=sorted(self.config.links))
        self._note_start()
        ready()
        try:
            await _until(stop, [*followers, *links, *others])
        finally:
            await _end(links)
            pipeline.finish()
            await _end(others)
            await self.control.stop()
            self.hub.close()
            if page is not None:
                await page.stop()
            await pipeline.keep_memory(GRACE_S)
            await asyncio.gather(*(outlet.stop(GRACE_S) for outlet in self.outlets.values()))
            await _end(followers)
            await self.journal.close()
            self._note(STOPPED, "neckyoke stopped")
            log.info("stopped")

    def alive(self) -> bool:
        """Return whether the journal's thread answers; that this is asked at all shows that the loop does."""
        return self.journal.alive()

    def _note_start(self) -> None:
        """Note the start, and tell when the run before did not end by being stopped."""
        if self.before is not None and self.before.get("about") != STOPPED:
            text = f"The box stopped without being told to (power cut, crash or hang), after {self.before.get('time')}."
            self.pipeline.say(Attention(station=None, about="not-stopped", text=text, over=True, lasted_s=0.0))
        self._note("started", "neckyoke started")

    def _note(self, about: str, text: str) -> None:
        self.pipeline.daybook.kept.note(self.clock.stamp(self.pipeline.now()).time, about, text)


async def _until(stop: asyncio.Event, tasks: Iterable["asyncio.Task[None]"]) -> None:
    """Wait for the sign to stop.  A task that ends before it met a mistake of ours: raised, so that we start afresh."""
    sign = asyncio.create_task(stop.wait())
    try:
        done, _ = await asyncio.wait({sign, *tasks}, return_when=asyncio.FIRST_COMPLETED)
        for task in done - {sign}:
            task.result()
            raise RuntimeError(f"{task.get_name()} ended by itself")
    finally:
        sign.cancel()


async def _end(tasks: Iterable["asyncio.Task[None]"]) -> None:
    tasks = list(tasks)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
