"""One configuration as running tasks: links -> site -> journal -> outlets, and the doors for people.

    link's callback -> time is taken -> capture -> site -> journal (one thread) -> watchers, outlets

Everything up to the journal happens in the callback that brought the bytes: there is no queue in which a reading could
grow old or two links could overtake each other.  The journal takes whole batches in order and gives each event its
sequence; only then does anybody else hear of it.  Ending goes the same way: links first, then the open stays, then the
journal, then the outlets.
"""

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Callable, Iterable, Mapping
from dataclasses import asdict
from datetime import date, datetime
from functools import partial
from types import MappingProxyType
from typing import Any

import structlog

from neckyoke.bridge.asking.requests import Answer, Answered, Request
from neckyoke.bridge.asking.socket import Control
from neckyoke.bridge.capture.write import CaptureWriter
from neckyoke.bridge.clock import Corrections, WallClock, boot_id
from neckyoke.bridge.config.escapes import spelled_bytes
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.daemon import status
from neckyoke.bridge.daemon.history_cache import Lookup
from neckyoke.bridge.daemon.reporter import Daybook
from neckyoke.bridge.daemon.request_handler import Desk
from neckyoke.bridge.events import Attention, Event, TagSeen, Weighing, spell_time, wrap
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.find import find_job
from neckyoke.bridge.job.load import Job
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.station_memory import Carried
from neckyoke.bridge.links.make import make_link
from neckyoke.bridge.links.supervise import State, Supervisor
from neckyoke.bridge.outlets.make import Outlet, make_outlet
from neckyoke.bridge.page.serve import serve
from neckyoke.bridge.site import Site
from neckyoke.bridge.station.settings import Memory
from neckyoke.bridge.telling.fanout import Gap, Hub, Live

TICK_S = 0.1
"""How often time is let pass without any input; deadlines are met in order whatever this is."""
LIVE_S = 0.2
"""How often a changed platform is shown to watchers."""
CLOCK_S = 1.0
"""How often the wall clock is looked at."""
SCALE_SILENT_S = 5.0
"""A scale that streams and has said nothing for so long is silent; a reader may be quiet as long as it likes."""
STOPPED = "stopped"
"""What the log of troubles says of a run that ended well."""
GRACE_S = 5.0
"""How long an outlet may take at the end to give what is left; the rest waits in the journal."""


class Service:
    """The daemon.  `run` returns when `stop` is set and everything has been put away."""

    def __init__(self, config: Config, clock: WallClock | None = None) -> None:
        self.config = config
        self.clock = clock or WallClock()
        self.hub = Hub()
        self.log = structlog.get_logger()
        self.daybook = Daybook(config.state_path("."))
        self.loop_lag_s = 0.0
        self._answered: Answered
        self.desk: Desk
        self._told = 0
        self._early: list[Event] | None = []  # what was to be said before there was a site to say it
        self.journal: Journal
        self.site: Site
        self._lookup: Lookup
        self.supervisors: dict[str, Supervisor] = {}
        self.outlets: dict[str, Outlet] = {}
        self._capture: CaptureWriter | None = None
        self._corrections: Corrections
        self._carried: Carried
        self._shown: dict[str, dict[str, Any]] = {}

    async def run(self, stop: asyncio.Event, ready: Callable[[], None] = lambda: None) -> None:
        """Run until `stop` is set.  Raises JournalError or ControlError when it cannot even begin."""
        before = self.daybook.kept.last()
        await self._begin()
        control = Control(
            self.config.socket_path,
            mode=int(self.config.control.mode, 8),
            answer=self.desk.ask,
            watch=self._watch,
        )
        await control.start()
        page = await serve(self.config, self.hub, self.journal, self.desk.ask, self.status, self._say)
        followers = [asyncio.create_task(outlet.run(), name=f"outlet {name}") for name, outlet in self.outlets.items()]
        links = [asyncio.create_task(one.run(), name=f"link {name}") for name, one in self.supervisors.items()]
        others = [asyncio.create_task(self._tick()), asyncio.create_task(self._watch_clock())]
        if self._capture is not None:
            others.append(asyncio.create_task(self._capture.run()))
        self.log.info("listening", site=self.config.site, links=sorted(self.config.links))
        self._note_start(before)
        ready()
        try:
            await _until(stop, [*followers, *links, *others])
        finally:
            await _end(links)
            self._publish(self.site.finish(self._now()))
            await _end(others)
            await control.stop()
            self.hub.close()
            if page is not None:
                await page.stop()
            await self._keep_memory()
            await asyncio.gather(*(outlet.stop(GRACE_S) for outlet in self.outlets.values()))
            await _end(followers)
            await self.journal.close()
            self.daybook.kept.note(self.clock.stamp(self._now()).time, STOPPED, "neckyoke stopped")
            self.log.info("stopped")

    def alive(self) -> bool:
        """Return whether the journal's thread answers; that this is asked at all shows that the loop does."""
        return self.journal.alive()

    # -- the beginning -------------------------------------------------------------------------------------------

    async def _begin(self) -> None:
        config = self.config
        path = config.state_path(config.journal.path)
        path.parent.mkdir(parents=True, exist_ok=True)
        self.journal = await Journal.open(
            path,
            outlets=config.outlets,
            keep_days=config.journal.keep_days,
            keep_mb=config.journal.keep_mb,
            say=self._say,
            now=self.clock.now,
            wall=self.clock.trusted,
        )
        self._lookup = Lookup(self.journal)
        values = await self.journal.kept("value")
        self._corrections = Corrections(boot_id(), values)
        self._carried = Carried(values)
        self._answered = Answered(values)
        interrupted = {name: Weighing.model_validate_json(body) for name, body in self.journal.open_stays.items()}
        memories = {name: self._carried.memory(name, interrupted.get(name)) for name in config.stations}
        self.site = Site(
            config,
            started=self.clock.stamp(0.0).time,
            stamp=self.clock.stamp,
            memories=memories,
            clerks={name: self._clerk(name, memories[name]) for name in config.stations},
            find_job=self.find_job,
        )
        self.desk = Desk(
            self.site, self.journal, self._lookup, self._answered, self._do, self._zero_indicator, self.status
        )
        early, self._early = self._early or [], None
        self._publish(early)
        self._finish(interrupted)
        for name, table in config.links.items():
            silent_s = table.silent_s or (SCALE_SILENT_S if self._is_scale(name) else None)
            self.supervisors[name] = Supervisor(
                name,
                partial(make_link, table.address, table),
                on_bytes=self._took,
                on_state=self._changed,
                silent_s=silent_s,
                reopen_when_silent=table.reopen_when_silent,
                poll=table.poll,
            )
        for name, outlet in config.outlets.items():
            self.outlets[name] = make_outlet(
                name, outlet, config, self.journal, say=self._say, ask=self.desk.ask, status=self.status
            )
        if config.capture.folder is not None:
            self._capture = CaptureWriter(
                config.state_path(config.capture.folder),
                site=config.site,
                started=datetime.fromisoformat(self.site.run),
                part_bytes=int(config.capture.part_mb * 1_000_000),
                parts=config.capture.parts,
                memory=self._capture_memory,
                calm=self._calm,
                on_trouble=self._capture_trouble,
            )

    def _is_scale(self, link: str) -> bool:
        return any(station.scale == link for station in self.config.stations.values())

    def _clerk(self, station: str, memory: Memory) -> Clerk:
        job: Job | None = None
        if self.config.stations[station].sheet is not None:
            try:
                job = find_job(self.config, station, None, self._today(), without_roster=True)
            except ConfigError as error:
                text = f"The job sheet of {station} cannot be used, and the day goes on without it: {error}"
                self._say(Attention(station=station, about="sheet", text=text))
            else:
                for doubt in job.doubts:
                    self.log.warning("job sheet", station=station, doubt=str(doubt))
        return Clerk(
            job.sheet if job else None,
            job.roster if job else None,
            history=self._lookup.past.weights,
            withheld=self._lookup.past.clear_from,
            weighed=memory.weighed,
        )

    def find_job(self, station: str, file: str | None) -> Job:
        """Read the job that a request names, or the station's present one again."""
        return find_job(self.config, station, file, self._today())

    def _today(self) -> date:
        return self.clock.stamp(self._now()).time.date()

    def _note_start(self, last: Mapping[str, Any] | None) -> None:
        """Note the start, and tell when the run before, whose last record this is, did not end by being stopped."""
        if last is not None and last.get("about") != STOPPED:
            text = f"The box stopped without being told to (power cut, crash or hang), after {last.get('time')}."
            self._say(Attention(station=None, about="not-stopped", text=text, over=True, lasted_s=0.0))
        self.daybook.kept.note(self.clock.stamp(self._now()).time, "started", "neckyoke started")

    def _finish(self, interrupted: Mapping[str, Weighing]) -> None:
        """End the stays that the last run left open: each becomes one weighing, flagged."""
        for station, weighing in interrupted.items():
            event = wrap(
                weighing, site=self.config.site, time=weighing.off, key=f"{weighing.weighing}/{weighing.revision}"
            )
            if station in self.site.clerks:
                event = self.site.clerks[station].fill(event)
            self.journal.submit([event], {station: None}, self._carried.changes(self.site.memories))
            self.log.warning("finished an interrupted stay", station=station, number=weighing.number)

    # -- the way of the data -------------------------------------------------------------------------------------

    def _now(self) -> float:
        return round(self.clock.now(), 6)  # as a capture spells it, so that a replay sees the same

    def _took(self, link: str, data: bytes) -> None:
        t = self._now()
        if self._capture is not None:
            self._capture.data(t, link, data)
        self._publish(self.site.data(t, link, data))

    def _changed(self, link: str, state: State, text: str, _lasted_s: float | None) -> None:
        t = self._now()
        if self._capture is not None:
            self._capture.link(t, link, state)
        self._publish(self.site.link(t, link, state, text))

    def _say(self, attention: Attention) -> None:
        """Publish what some part of the daemon wants a person to know."""
        self._told += 1
        stamp = self.clock.stamp(self._now())
        key = f"{spell_time(self.clock.stamp(0.0).time)}/service/{self._told}"
        event = wrap(attention, site=self.config.site, time=stamp.time, key=key)
        if self._early is None:
            self._publish([event])
        else:
            self._early.append(event)

    def _publish(self, events: list[Event], asked: Mapping[str, str] = MappingProxyType({})) -> None:
        """Hand events to the journal; watchers hear of them when they are safe.

        `asked` is what to keep of a request; every open stay goes with it, without an event too: a crash must not lose
        what a person said of the animal standing there.
        """
        if not events and not asked:
            return
        for event in events:
            self.daybook.event(event)
            if isinstance(event.data, TagSeen):
                self._lookup.heard(event.data.tag.id)
            elif isinstance(event.data, Weighing):
                self._lookup.add(event)
                self._corrections.note(event.data, self.clock.offset)
        stays = {
            name: stay.model_dump_json() if stay else None
            for name, stay in self.site.open_stays.items()
            if asked or any(event.source.endswith(f"/{name}") for event in events)
        }
        values: dict[str, str | None] = {**asked}
        if any(isinstance(event.data, Weighing) for event in events):
            values |= self._carried.changes(self.site.memories) | self._corrections.changes()
        written = self.journal.submit(events, stays, values)
        written.add_done_callback(self._written)

    def _written(self, future: "asyncio.Future[list[Event]]") -> None:
        if not future.cancelled():
            for event in future.result():
                self.hub.put(event)

    # -- time ----------------------------------------------------------------------------------------------------

    async def _tick(self) -> None:
        """Let time pass, and show platforms that changed."""
        due = self.clock.now()
        shown_at = due
        while True:
            due += TICK_S
            await asyncio.sleep(max(0.0, due - self.clock.now()))
            now = self.clock.now()
            self.loop_lag_s = round(now - due, 3)
            due = max(due, now - TICK_S)
            self._publish(self.site.advance(self._now()))
            if now - shown_at >= LIVE_S - 0.01:
                shown_at = now
                self._show()

    def _show(self) -> None:
        for name in self.site.stations:
            view = status.platform(self.site, name)
            if view != self._shown.get(name):
                self._shown[name] = view
                self.hub.put(Live(name, view))
                for outlet in self.outlets.values():
                    outlet.show(name, view)

    async def _watch_clock(self) -> None:
        """Say when the wall clock is set, and amend what was published before it was known."""
        while True:
            await asyncio.sleep(CLOCK_S)
            step = self.clock.sample()
            if step is not None:
                text = f"The clock was set: {abs(step.delta_s):.1f} s {'forward' if step.delta_s > 0 else 'back'}."
                self._say(Attention(station=None, about="clock", text=text, over=True, lasted_s=0.0))
            waits = len(self._corrections) and not self.desk.looks_back
            if self.clock.state == "synchronised" and waits:
                self._publish(self._restamped())

    def _restamped(self) -> list[Event]:
        """Amend what was published before the clock was known, by the stations where they still know it."""
        t = self._now()
        earlier = self._corrections.settle(self.clock.offset)
        events = self.site.restamp(t)
        done = {event.data.weighing for event in events if isinstance(event.data, Weighing)}
        time = self.clock.stamp(t).time
        return events + [
            wrap(one, site=self.config.site, time=time, key=f"{one.weighing}/{one.revision}")
            for one in earlier
            if one.weighing not in done
        ]

    # -- people --------------------------------------------------------------------------------------------------

    def _do(self, request: Request, past: Weighing | None) -> Answer:
        """Do what is asked.  `past`: see `Site.request`."""
        t = self._now()
        if self._capture is not None:
            self._capture.request(t, request.model_dump(mode="json", exclude_none=True))
        answer, events = self.site.request(t, request, past)
        self._publish(events, self._answered.keep(request, answer, self.clock.stamp(t).time))
        return answer

    async def _zero_indicator(self, station: str | None) -> str | None:
        """Send the indicator's own zero command as well, where the configuration has one; say when it did not go."""
        for name, table in self.config.stations.items():
            command = self.config.links[table.scale].zero_command
            if station in {None, name} and command is not None:
                try:
                    await self.supervisors[table.scale].write(spelled_bytes(command))
                except OSError as error:
                    text = f"The zero command was not sent: {error}.  Zero the indicator by hand."
                    self._say(Attention(station=name, about="zero-command", text=text, over=True, lasted_s=0.0))
                    return text
        return None

    async def _watch(self) -> AsyncIterator[str]:
        """Yield each event, and each platform that changes, as a line of JSON."""
        with self.hub.watch() as watcher:
            for name in self.site.stations:
                watcher.put(Live(name, status.platform(self.site, name)))
            async for item in watcher.items():
                match item:
                    case Live():
                        yield json.dumps({"live": item.view})
                    case Gap():
                        yield json.dumps({"gap": True})
                    case _:
                        yield item.to_json()

    def status(self) -> dict[str, Any]:
        """Return the figures that tell how the daemon is."""
        figures = status.figures(self.site, self.clock, self.journal, self.supervisors, self.outlets)
        return figures | {"troubles": status.troubles(self.daybook.standing), "loop_lag_s": self.loop_lag_s}

    # -- what is kept from run to run ----------------------------------------------------------------------------

    def _capture_memory(self) -> dict[str, dict[str, Any]]:
        """Return what a new part of the capture must begin with."""
        return {name: _memory_table(memory) for name, memory in self.site.memories.items()}

    def _calm(self) -> bool:
        """Return whether every platform is empty: then a part of the capture may end."""
        return all(station.view.number is None for station in self.site.stations.values())

    def _capture_trouble(self, text: str | None) -> None:
        over = text is None
        self._say(
            Attention(station=None, about="capture", text=text or "The capture is being written again.", over=over)
        )

    async def _keep_memory(self) -> None:
        values = self._carried.changes(self.site.memories)
        with contextlib.suppress(Exception):
            await asyncio.wait_for(self.journal.append((), dict.fromkeys(self.site.stations), values), GRACE_S)


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


def _memory_table(memory: Memory) -> dict[str, Any]:
    return asdict(memory) | {"weighed": dict(memory.weighed)}
