"""The way of the data through the daemon.

    link's callback -> time is taken -> capture -> site -> journal (one thread) -> watchers, outlets

Everything up to the journal happens in the callback that brought the bytes: there is no queue in which a reading could
grow old or two links could overtake each other.  The journal takes whole batches in order and gives each event its
sequence; only then does anybody else hear of it.
"""

import asyncio
import contextlib
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date
from functools import partial
from types import MappingProxyType

import structlog

from neckyoke.bridge.asking.requests import Answer, Answered, Request
from neckyoke.bridge.capture.write import CaptureWriter
from neckyoke.bridge.clock import Corrections, WallClock
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.daemon.history_cache import Lookup
from neckyoke.bridge.daemon.reporter import Daybook
from neckyoke.bridge.events import Attention, Event, JobState, TagSeen, Weighing, spell_time, wrap
from neckyoke.bridge.job.redated import redated
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.station_memory import Carried
from neckyoke.bridge.links.supervise import State
from neckyoke.bridge.site.site import Site
from neckyoke.bridge.site.undoing import Owed
from neckyoke.bridge.telling.fanout import Hub
from neckyoke.bridge.telling.keep import Guard


@dataclass
class Pipeline:
    """What every byte, state, request and moment goes through."""

    clock: WallClock
    site: Site
    journal: Journal
    lookup: Lookup
    answered: Answered
    carried: Carried
    corrections: Corrections
    daybook: Daybook
    hub: Hub
    capture: CaptureWriter | None
    guard: Guard
    _told: int = 0

    def now(self) -> float:
        """Return monotonic seconds of this run, as a capture spells them, so that a replay sees the same."""
        return round(self.clock.now(), 6)

    def took(self, link: str, data: bytes) -> None:
        """Take bytes from a link.  Never raises: a mistake in what one device sends must not silence another."""
        self.guard(f"reading {link}", partial(self._took, link, data))

    def _took(self, link: str, data: bytes) -> None:
        t = self.now()
        if self.capture is not None:
            self.capture.data(t, link, data)
        self.publish(self.site.data(t, link, data))
        self._keep_open(t)

    def changed(self, link: str, state: State, text: str, _lasted_s: float | None) -> None:
        """Take a link's change of state.  Never raises."""
        self.guard(f"minding {link}", partial(self._changed, link, state, text))

    def _changed(self, link: str, state: State, text: str) -> None:
        t = self.now()
        if self.capture is not None:
            self.capture.link(t, link, state)
        self.publish(self.site.link(t, link, state, text))

    def advance(self) -> None:
        """Let time pass up to now."""
        t = self.now()
        self.publish(self.site.advance(t))
        self._keep_open(t)

    def _keep_open(self, t: float) -> None:
        """Let the journal know of the stays that are open, as they begin and grow."""
        due, known = self.carried.due(t, self.site.stations)
        if due or known:
            values = self.carried.changes(self.site.memories) if known else {}
            self.journal.submit((), self._open_stays(set(due)), values)

    def _open_stays(self, stations: AbstractSet[str]) -> dict[str, str | None]:
        stays = {name: stay for name, stay in self.site.open_stays.items() if name in stations}
        views = {name: self.site.stations[name].view.platform for name in stays}
        return self.carried.open_stays(stays, self.clock.offset, views)

    def do(self, request: Request, past: Weighing | None) -> Answer:
        """Do what is asked.  `past`: see `Site.request`."""
        t = self.now()
        if self.capture is not None:
            self.capture.request(t, request.model_dump(mode="json", exclude_none=True))
        answer, events = self.site.request(t, request, past)
        self.publish(events, self.answered.keep(request, answer, self.clock.stamp(t).time))
        return answer

    def move(self, past: Weighing, owed: Owed) -> None:
        """Move or put back a weighing that only the journal knows."""
        self.publish(self.site.move_past(self.now(), past, owed))

    def say(self, attention: Attention) -> None:
        """Publish what some part of the daemon wants a person to know."""
        self._told += 1
        stamp = self.clock.stamp(self.now())
        key = f"{spell_time(self.clock.stamp(0.0).time)}/service/{self._told}"
        self.publish([wrap(attention, site=self.site.config.site, time=stamp.time, key=key)])

    def restamp(self) -> None:
        """Amend what was published before the clock was known, with every date that hangs on its times.

        What is amended reads what came before it: so all are put right in what is known of the animals first.  Then the
        stations amend what they have at hand, and the rest is amended here.
        """
        t = self.now()
        time, site = self.clock.stamp(t).time, self.site
        earlier, days = [], dict[date, date]()
        for one in self.corrections.settle(self.clock.offset, self.clock.up_s):
            weighing = redated(one, site.config.zone)
            key = f"{weighing.weighing}/{weighing.revision}"
            earlier.append(wrap(weighing, site=site.config.site, time=time, key=key))
            self.lookup.add(earlier[-1])
            days[site.keeper.today(one.before.on)] = site.keeper.today(weighing.on)
            site.keeper.saw(weighing)
        site.keeper.moved(days)
        events = site.restamp(t)
        done = {event.data.weighing for event in events if isinstance(event.data, Weighing)}
        self.publish(events)
        for event in earlier:
            if isinstance(event.data, Weighing) and event.data.weighing not in done:
                self.publish(site.redated(event))

    def end_interrupted(self) -> None:
        """End the stays that the last run left open: each becomes one weighing, flagged."""
        log = structlog.get_logger()
        for station, left in self.carried.left.items():
            weighing = left.weighing
            key = f"{weighing.weighing}/{weighing.revision}"
            event = wrap(weighing, site=self.site.config.site, time=weighing.off, key=key)
            filled = self.site.filled(event) if station in self.site.clerks else [event]
            if left.offset is not None:
                self.corrections.note(weighing, left.offset)
            values = self.carried.changes(self.site.memories) | self.corrections.changes()
            self.journal.submit(filled, {station: None}, values)
            log.warning("finished an interrupted stay", station=station, number=weighing.number)
        for station in self.carried.unread:
            text = f"An animal stood on {station} when the box stopped, and the journal's note of it cannot be read. "
            text += "Weigh it again if it is not in today's list."
            self.say(Attention(station=station, about="open-stay", text=text, over=True, lasted_s=0.0))
            self.journal.submit((), {station: None})

    async def renew(self, config: Config) -> bool:
        """Go on by another configuration of the same stations; not, and return False, while an animal stands on one.

        A capture is replayed by one configuration, so its part ends here.
        """
        if self.capture is not None:
            await self.capture.flush()
        if not self.site.is_calm:
            return False
        self.publish(self.site.renew(self.now(), config))
        if self.capture is not None:
            await self.capture.flush(end=True)
        return True

    def finish(self) -> None:
        """End the run: every open stay ends, every pending decision is made."""
        self.publish(self.site.finish(self.now()))

    async def keep_memory(self, grace_s: float) -> None:
        """Write what the stations carry to the next run, for at most `grace_s`."""
        values = self.carried.changes(self.site.memories)
        with contextlib.suppress(Exception):
            await asyncio.wait_for(self.journal.append((), dict.fromkeys(self.site.stations), values), grace_s)

    def publish(self, events: list[Event], asked: Mapping[str, str] = MappingProxyType({})) -> None:
        """Hand events to the journal; watchers hear of them when they are safe.

        `asked` is what to keep of a request; every open stay goes with it, without an event too: a crash must not lose
        what a person said of the animal standing there.
        """
        if not events and not asked:
            return
        for event in events:
            self.daybook.event(event)
            if isinstance(event.data, TagSeen):
                self.lookup.heard(event.data.tag.id)
            elif isinstance(event.data, Weighing):
                self.lookup.add(event)
                self.corrections.note(event.data, self.clock.offset)
        sources = {event.source.rsplit("/", 1)[-1] for event in events}
        stays = self._open_stays({name for name in self.site.stations if asked or name in sources})
        values: dict[str, str | None] = {**asked}
        if asked or any(isinstance(event.data, Weighing | JobState) for event in events):
            values |= self.carried.changes(self.site.memories) | self.corrections.changes()
        values |= self.site.keeper.questions.changes()
        written = self.journal.submit(events, stays, values)
        written.add_done_callback(self._written)

    def _written(self, future: "asyncio.Future[list[Event]]") -> None:
        if not future.cancelled() and future.exception() is None:
            for event in future.result():
                self.hub.put(event)
