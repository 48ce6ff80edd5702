"""One configuration as running tasks: links -> site -> journal -> outlets, and the doors for people.

Made whole by bridge/daemon/build.py.  Ending goes the way of the data: links first, then the open stays, then the
journal, then the outlets.
"""

import asyncio
from collections.abc import Awaitable, Callable, Coroutine, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import structlog

from neckyoke.bridge.asking.socket import Control
from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.daemon.pace import Pace
from neckyoke.bridge.daemon.pipeline import Pipeline
from neckyoke.bridge.daemon.reload import Reload
from neckyoke.bridge.daemon.request_handler import Desk
from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.links.supervise import Supervisor
from neckyoke.bridge.outlets.follower import Follower
from neckyoke.bridge.page.serve import serve
from neckyoke.bridge.site.wires import rewired
from neckyoke.bridge.telling.alerts import Troubles
from neckyoke.bridge.telling.fanout import Hub
from neckyoke.bridge.telling.keep import keep
from neckyoke.bridge.telling.scrape import Scrape
from neckyoke.bridge.telling.status import Status
from neckyoke.bridge.telling.systemd import feed, watchdog_s

STOPPED = "stopped"
"""What the log of troubles says of a run that ended well."""
LOST = "They are lost: only the log, and what a broker was told, has their weights."
GRACE_S = 5.0
"""How long an outlet may take at the end to give what is left; the rest waits in the journal."""


@dataclass
class Service:
    """The daemon.  `run` returns when `stop` is set and everything has been put away.

    `status` gives the figures that tell how it is; `before` is the last that was noted of the run before.
    """

    config: Config
    pipeline: Pipeline
    supervisors: dict[str, Supervisor]
    outlets: dict[str, Follower]
    make_outlet: Callable[[str, Config], Follower]
    make_supervisor: Callable[[Config, str], Supervisor]
    desk: Desk
    pace: Pace
    control: Control
    status: Callable[[], Status]
    before: Mapping[str, Any] | None
    troubles: Troubles

    def __post_init__(self) -> None:
        self._followers: dict[str, asyncio.Task[None]] = {}
        self._links: dict[str, asyncio.Task[None]] = {}
        self.desk.reload = Reload(self.config, self.desk.ask, self._renew, self._rewire)

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

    async def run(self, stop: asyncio.Event, ready: Callable[[], object] = lambda: None) -> None:
        """Run until `stop` is set.  Raises ControlError when it cannot even begin; the journal is closed then too."""
        log = structlog.get_logger()
        pipeline = self.pipeline
        try:
            await self.control.start()
        except BaseException:
            await self.journal.close()
            raise
        book = pipeline.site.keeper.book
        page = await serve(self.config, self.hub, self.journal, self.desk.ask, self.status, pipeline.say, book)
        for name in self.outlets:
            self._follow(name)
        for name in self.supervisors:
            self._listen(name)
        others = [self._kept("time", self.pace.tick), self._kept("clock", self.pace.watch_clock)]
        if pipeline.capture is not None:
            others.append(self._kept("capture", pipeline.capture.run))
        if self.config.metrics is not None:
            others.append(self._kept("metrics", Scrape(self.config.metrics.listen, self.status, self.troubles).run))
        if (every_s := watchdog_s()) is not None:
            others.append(self._kept("watchdog", partial(feed, self.alive, every_s)))
        log.info("listening", site=self.config.site, links=sorted(self.config.links))
        self._note_start()
        ready()
        try:
            await stop.wait()
        finally:
            ways: list[Callable[[], Awaitable[object]]] = [
                self._stop_links,
                self._finish,
                partial(_end, others),
                self.control.stop,
                *([page.stop] if page is not None else []),
                partial(pipeline.keep_memory, GRACE_S),
                self._stop_outlets,
                self.journal.close,
            ]
            for way in ways:  # each, whatever becomes of the one before
                try:
                    await way()
                except Exception:
                    log.exception("something could not be put away")
            self._note(STOPPED, "neckyoke stopped")
            left, where = self.journal.left
            if left:
                kept = f"They are kept in {where} and taken in at the next start: make room, or change the disk, first."
                text = f"Stopped, and {left} events could not be written to the journal. {kept if where else LOST}"
                self._note("left", text)
                log.error(text)
            else:
                log.info("stopped")

    def _follow(self, name: str) -> None:
        self._followers[name] = self._kept(f"outlet {name}", self.outlets[name].run)

    async def _stop_outlets(self) -> None:
        await asyncio.gather(*(outlet.stop(GRACE_S) for outlet in self.outlets.values()))
        await _end(self._followers.values())

    async def _renew(self, name: str, config: Config) -> None:
        """End an outlet and begin it anew as a configuration says, from its own position; or only one of the two."""
        if (outlet := self.outlets.pop(name, None)) is not None:
            await outlet.stop(GRACE_S)
            await _end([self._followers.pop(name)])
        self.journal.keep_for(config.outlets)
        if name in config.outlets:
            self.outlets[name] = self.make_outlet(name, config)
            self._follow(name)

    def _listen(self, name: str) -> None:
        self._links[name] = self._kept(f"link {name}", self.supervisors[name].run)

    async def _stop_links(self) -> None:
        await _end(self._links.values())

    async def _rewire(self, config: Config) -> bool:
        """Go on by the stations and links of a configuration; False while an animal stands on one.

        Links of which nothing has changed stay open and lose no byte.
        """
        if not self.pipeline.site.is_calm:
            return False
        changed = rewired(self.pipeline.site.config, config)
        await _end(self._links.pop(name) for name in changed & self._links.keys())
        done = await self.pipeline.renew(config)
        for name in changed:
            now = config if done else self.pipeline.site.config
            self.supervisors.pop(name, None)
            if name in now.links:
                self.supervisors[name] = self.make_supervisor(now, name)
                self._listen(name)
        return done

    async def _finish(self) -> None:
        self.pipeline.finish()
        self.hub.close()

    def _kept(self, name: str, work: Callable[[], Coroutine[Any, Any, None]]) -> "asyncio.Task[None]":
        """Begin a task that dies of nothing."""
        return asyncio.create_task(keep(name, work, self.troubles), name=f"keep {name}")

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


async def _end(tasks: Iterable["asyncio.Task[None]"]) -> None:
    tasks = list(tasks)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
