"""A site that weighs six animals of a simulated yard, in parts, and is told things in between."""

import copy
import copyreg
import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import Any, Protocol

from neckyoke.bridge.asking.requests import Answer, Refusal, parse_request
from neckyoke.bridge.capture.format import read_memory
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Animal, Attention, Clock, Event, JobState, Stamp, Weighing
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.herd.questions import Questions
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.find import FoundSheets
from neckyoke.bridge.site.site import Site
from neckyoke.bridge.station.instructions import About
from neckyoke.bridge.station.settings import Memory
from neckyoke.simulators.crush.walk import Stay
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
YARD = Yard.named("calm", seed=8, animals=6)
ITEMS = list(YARD.items())
EVERY = {"indicator": 3, "panel": 2}
STEERS = 'title = "Steers"\n[[treatments]]\nname = "drench"\nml_per_kg = 0.1\nwithhold_days = 28\n'
LAMBS = 'title = "Lambs"\n[[draft]]\npen = "all"\n'
copyreg.pickle(MappingProxyType, lambda one: (MappingProxyType, (dict(one),)))  # so that `twin` may copy one


class Weighs(Protocol):
    """A yard: who stands when, and what comes over the wires."""

    @property
    def truth(self) -> Sequence[Stay]:
        """The stays."""

    def items(self) -> Iterable[tuple[float, str, bytes]]:
        """Give what comes over the wires."""


class Thinned:
    """The yard with every third frame of the scale and every other read: much the same in a third of the time."""

    truth = YARD.truth

    def items(self) -> Iterator[tuple[float, str, bytes]]:
        """Yield what comes over the wires."""
        counts = Counter[str]()
        for t, link, data in ITEMS:
            counts[link] += 1
            if counts[link] % EVERY[link] == 0:
                yield t, link, data


THINNED = Thinned()


def _keeper(before: Sequence[Event], values: Mapping[str, str]) -> Keeper:
    """Make the keeper as it is after a stop: the book is a fold of its events."""
    keeper = Keeper("larkmoor", questions=Questions(values))
    for event in before:
        if isinstance(event.data, Animal):
            keeper.book.fold(event.data)
        elif isinstance(event.data, Weighing):
            keeper.saw(event.data)
    return keeper


class Crush:
    """A site that weighs the yard's six animals on each of its days; `say` asks when the yard is empty."""

    def __init__(
        self,
        folder: Path,
        memory: Memory | None = None,
        run: int = 0,
        before: "Crush | None" = None,
        yard: Weighs = YARD,
    ) -> None:
        path = folder / "neckyoke.toml"
        text = CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002")
        path.write_text(text.replace('site = "larkmoor"', 'site = "larkmoor"\ntimezone = "Pacific/Auckland"'))
        (folder / "lambs.toml").write_text(LAMBS)
        config = load_config(path)
        self.folder, self.run, self.t = folder, run, 0.0
        self.yard, self.items = yard, ITEMS if yard is YARD else list(yard.items())
        self.sheets = FoundSheets(config, STARTED.date)
        started = STARTED + timedelta(days=run)
        self.site = Site(
            config,
            started=started,
            stamp=lambda t: Stamp(started + timedelta(seconds=t), Clock.SYNCHRONISED),
            memories={"crush": memory or Memory()},
            clerk=lambda jobs: Clerk(jobs, zone=config.zone),
            sheets=self.sheets,
            keeper=_keeper(before.events, before.values) if before else None,
        )
        self.values: dict[str, str] = {**before.values} if before else {}
        self.events: list[Event] = [*before.events] if before else []
        for job in self.site.jobs["crush"].to_recall:
            self.site.jobs["crush"].recall(job, list(self._newest().values()))

    def weigh(self, first: int = 0, last: int = 6) -> "Crush":
        """Weigh some of the animals; the platform is empty between."""
        begin, end = self.yard.truth[first].on_t - 0.5, self.yard.truth[last - 1].off_t + 1
        for since, until in ((begin, end), *[(0.0, self.yard.truth[0].on_t - 0.5)] * 4):
            self._feed(since, until)
        self.events += self.site.advance(self.t)
        return self

    def on(self, at: int) -> None:
        """Let an animal step on, and stand there."""
        stay = self.yard.truth[at]
        self._feed(stay.on_t - 0.5, stay.leave_t)

    def off(self, at: int) -> None:
        """Let it go."""
        stay = self.yard.truth[at]
        self._feed(stay.leave_t, stay.off_t + 1)
        for _ in range(4):
            self._feed(0.0, self.yard.truth[0].on_t - 0.5)
        self.events += self.site.advance(self.t)

    def _feed(self, since: float, until: float) -> None:
        for t, link, data in self.items:
            if since <= t < until:
                self.events += self.site.data(self.t + t - since, link, data)
        self.t += until - since

    def say(self, kind: str, **words: Any) -> Answer:
        self.t += 1.0
        request = parse_request({"kind": kind, **words})
        assert not isinstance(request, Refusal), request
        lacking = self.site.lacks(request)
        answer, events = self.site.request(self.t, request, self._past(lacking[1]) if lacking else None)
        self.events += events
        owed, self.site.owed = self.site.owed, {}
        for one in (one for stays in owed.values() for one in stays):
            if (past := self._past(one.about)) is not None:
                self.events += self.site.move_past(self.t, past, one)
        return answer

    def _past(self, about: About) -> Weighing | None:
        """Look a weighing up, as the journal has it."""
        fits = (one for one in self.latest.values() if about.weighing in {None, one.weighing})
        return next((one for one in fits if about.number in {None, one.number}), None)

    def wait(self, seconds: float) -> None:
        self.t += seconds
        self.events += self.site.advance(self.t)

    def again(self) -> "Crush":
        """Publish all that is at hand once more, with what is known by now."""
        ids = {one.weighing for one in self.latest.values()}
        self.events += self.site.filled_all(self.t, self.site.stations["crush"].again(self.t, ids, "looked at"))
        return self

    def stopped(self, days: int = 1) -> "Crush":
        """Stop without a word and begin again, so many days later, with what is kept, as JSON."""
        kept = json.loads(json.dumps(asdict(self.site.memories["crush"])))
        for name, body in self.site.keeper.questions.changes().items():
            self.values |= {} if body is None else {name: body}
            if body is None:
                self.values.pop(name, None)
        return Crush(self.folder, read_memory(kept), self.run + days, self, self.yard)

    def twin(self) -> "Crush":
        """Return another in the very same state: what many days begin with is lived through once."""
        unchanging = [self.items, self.yard, self.site.config, *self.events, *(event.data for event in self.events)]
        return copy.deepcopy(self, {id(one): one for one in unchanging})

    @property
    def latest(self) -> dict[int, Weighing]:
        return {event.data.number: event.data for event in self._newest().values() if isinstance(event.data, Weighing)}

    def _newest(self) -> dict[str, Event]:
        return {event.data.weighing: event for event in self.events if isinstance(event.data, Weighing)}

    @property
    def book(self) -> Book:
        """The herd book."""
        return self.site.keeper.book

    @property
    def jobs(self) -> list[JobState]:
        return [event.data for event in self.events if isinstance(event.data, JobState)]

    def attentions(self, about: str) -> list[Attention]:
        said = (event.data for event in self.events if isinstance(event.data, Attention))
        return [one for one in said if one.about == about]
