"""A site that weighs six animals of a simulated yard, in parts, and is told things in between."""

import json
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from neckyoke.bridge.asking.requests import Answer, Refusal, parse_request
from neckyoke.bridge.capture.format import read_memory
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Attention, Clock, Event, JobState, Stamp, Weighing
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.find import FoundSheets
from neckyoke.bridge.site.site import Site
from neckyoke.bridge.station.settings import Memory
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
YARD = Yard.named("calm", seed=8, animals=6)
ITEMS = list(YARD.items())
EMPTY = YARD.truth[0].on_t - 0.5
"""For so long the platform is empty at first."""
STEERS = 'title = "Steers"\n[[treatments]]\nname = "drench"\nml_per_kg = 0.1\nwithhold_days = 28\n'
LAMBS = 'title = "Lambs"\n[[draft]]\npen = "all"\n'


class Crush:
    """A site that weighs the yard's six animals on each of its days; `say` asks when the yard is empty."""

    def __init__(self, folder: Path, memory: Memory | None = None, run: int = 0) -> None:
        path = folder / "neckyoke.toml"
        text = CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002")
        path.write_text(text.replace('site = "larkmoor"', 'site = "larkmoor"\ntimezone = "Pacific/Auckland"'))
        (folder / "lambs.toml").write_text(LAMBS)
        config = load_config(path)
        self.folder, self.run, self.t = folder, run, 0.0
        self.sheets = FoundSheets(config, STARTED.date)
        started = STARTED + timedelta(days=run)
        self.site = Site(
            config,
            started=started,
            stamp=lambda t: Stamp(started + timedelta(seconds=t), Clock.SYNCHRONISED),
            memories={"crush": memory or Memory()},
            clerk=lambda jobs: Clerk(jobs, zone=config.zone),
            sheets=self.sheets,
        )
        self.events: list[Event] = []

    def weigh(self, first: int = 0, last: int = 6) -> "Crush":
        """Weigh some of the six animals."""
        begin, end = YARD.truth[first].on_t - 0.5, YARD.truth[last - 1].off_t + 1
        for since, until in ((begin, end), *[(0.0, EMPTY)] * 4):
            for t, link, data in ITEMS:
                if since <= t < until:
                    self.events += self.site.data(self.t + t - since, link, data)
            self.t += until - since
        self.events += self.site.advance(self.t)
        return self

    def say(self, kind: str, **words: Any) -> Answer:
        self.t += 1.0
        request = parse_request({"kind": kind, **words})
        assert not isinstance(request, Refusal), request
        answer, events = self.site.request(self.t, request)
        self.events += events
        return answer

    def wait(self, seconds: float) -> None:
        self.t += seconds
        self.events += self.site.advance(self.t)

    def stopped(self) -> "Crush":
        """Stop without a word and begin again with what is kept, as JSON."""
        kept = json.loads(json.dumps(asdict(self.site.memories["crush"])))
        later = Crush(self.folder, read_memory(kept), self.run + 1)
        later.events = self.events
        return later

    @property
    def latest(self) -> dict[int, Weighing]:
        return {event.data.number: event.data for event in self.events if isinstance(event.data, Weighing)}

    @property
    def jobs(self) -> list[JobState]:
        return [event.data for event in self.events if isinstance(event.data, JobState)]

    def attentions(self, about: str) -> list[Attention]:
        said = (event.data for event in self.events if isinstance(event.data, Attention))
        return [one for one in said if one.about == about]
