"""Killing the daemon within stays: for each stay, how many weighings it has in the end.

The daemon is built whole, in this process, and fed a simulated yard as fast as it can take it.  A kill is what a kill
leaves: its files as they are at that moment, from which another is built; the one that was killed is forgotten.
(tests/support/killed_daemon.py kills real processes.)  Its clock is the yard's, and goes on while it is away.
"""

import asyncio
import random
import shutil
import tempfile
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.events import Animal, Flag, Weighing, read_event
from neckyoke.bridge.journal.herd_tables import HerdReading
from neckyoke.bridge.journal.reading import read_only
from neckyoke.bridge.site.job_words import many
from neckyoke.bridge.site.station_jobs import StationJobs
from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import WeightReading
from neckyoke.simulators.scenario import Scenario
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG
from tests.support.herd_agreement import disagreements
from tests.support.power_day import in_memory
from tests.support.stay_toll import StayToll, count, plan

WALL = datetime.fromisoformat("2026-11-24T02:11:00Z").timestamp()
BOOT_S = 1000.0
TICK_S = 0.1
JOURNAL = "neckyoke.db"
SHEET = 'title = "Autumn"\n[[treatments]]\nname = "oral drench"\nml = 10\nwithhold_days = 28\n'


@dataclass(slots=True)
class Case:
    """A kind of day: with tags or none, its clock synchronised or not."""

    tags: bool
    synchronised: bool


class _Box:
    """The box: its folder and the daemon in it, built anew after each kill."""

    def __init__(self, folder: Path, case: Case, scenario: Scenario) -> None:
        self.t = 0.0
        self._folder, self._case, self._lives = folder, case, 0
        self.folder = folder / "0"
        self.folder.mkdir()
        text = CONFIG.format(indicator="serial:/dev/none0?baud=9600", panel="serial:/dev/none1?baud=9600")
        told = f'sheet = "sheet.toml"\nsmallest_kg = {scenario.smallest_kg}'
        capacity_kg = scenario.indicator.capacity_kg
        assert "capacity_kg = 1500\n" in text
        text = text.replace("capacity_kg = 1500\n", f"{told}\ncapacity_kg = {capacity_kg}\n")
        (self.folder / "neckyoke.toml").write_text(text, encoding="utf-8")
        (self.folder / "sheet.toml").write_text(SHEET, encoding="utf-8")
        self.disagree: list[str] = []
        self.service: Service | None = None

    async def start(self) -> None:
        clock = WallClock(lambda: BOOT_S + self.t, lambda: WALL + self.t, lambda: self._case.synchronised)
        self.service = await build(load_config(self.folder / "neckyoke.toml"), clock)
        for link in ("indicator", "panel"):
            self.service.pipeline.changed(link, "up", "", None)
        await self.service.journal.append()
        kept = (read_event(body).data for body in await self.service.journal.herd(HerdReading.animals))
        spelled = {one.animal: one.model_dump_json() for one in kept if isinstance(one, Animal)}
        if spelled != self.service.pipeline.site.keeper.book.bodies():
            self.disagree.append("the book in memory is not the journal's")

    async def kill(self) -> None:
        """Leave the files as they are, and go on from a copy of them."""
        assert self.service is not None
        self._lives += 1
        after = self._folder / str(self._lives)
        shutil.copytree(self.folder, after)
        for name in after.glob("*-shm"):
            name.unlink()
        self.disagree += disagreements(_beside(after / JOURNAL), ended=False)
        await self.service.journal.close()
        shutil.rmtree(self.folder)
        self.folder, self.service = after, None

    async def to(self, t: float) -> None:
        """Let time pass, and what was handed in be written."""
        self.t = t
        if self.service is not None:
            self.service.pipeline.advance()
            await self.service.journal.append()


def _beside(journal: Path) -> Path:
    """Copy a journal with all that belongs to it, so that looking changes nothing of what was left."""
    folder = journal.parent / "looked-at"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for path in journal.parent.glob(f"{journal.name}*"):
        shutil.copy(path, folder)
    return folder / journal.name


async def _day(folder: Path, case: Case, yard: Yard, seed: int, toll: StayToll, quiet: int) -> None:
    chance = random.Random(seed)
    plans = {stay.number: plan(chance, stay) for stay in yard.truth[max(1, quiet) : -1] if chance.random() < 0.8}
    gaps = sorted(
        (stay.on_t + at, stay.on_t + at + away_s)
        for stay in yard.truth
        if stay.number in plans
        for at, away_s in plans[stay.number]
    )
    box = _Box(folder, case, yard.scenario)
    await box.start()
    due = iter(gaps)
    gap = next(due, None)
    decoder, half_kg, shown = scale_decoder(), yard.scenario.smallest_kg / 2, dict[int, float]()
    ticked, done = 0.0, list[tuple[float, float]]()
    for t, link, data in yard.items():
        while ticked + TICK_S <= t or (gap is not None and gap[0] <= t):
            if gap is not None and gap[0] <= ticked + TICK_S:
                await box.to(gap[0])
                await box.kill()
                toll.kills += 1
                done.append(gap)
                box.t = gap[1]
                await box.start()
                ticked, gap = gap[1], next(due, None)
                while gap is not None and gap[0] < ticked:  # it was away already
                    gap = next(due, None)
            else:
                ticked += TICK_S
                await box.to(ticked)
        if link == "indicator" and any(
            isinstance(one, WeightReading) and (one.kg or 0.0) >= half_kg for one in decoder.feed(data)
        ):
            shown = {stay.number: t for stay in yard.truth if stay.on_t <= t <= stay.off_t} | shown
        if t < ticked or (link == "panel" and not case.tags):
            continue  # nobody heard it
        box.t = t
        assert box.service is not None
        box.service.pipeline.took(link, data)
    await box.to(ticked + 60.0)
    assert box.service is not None
    box.service.pipeline.finish()
    await box.service.journal.close()
    with read_only(box.folder / JOURNAL) as journal:
        found = [read_event(body).data for body in journal.latest()]
    weighings = [one for one in found if isinstance(one, Weighing) and Flag.VOIDED not in one.flags]
    box.disagree += _miscounted(box.service.pipeline.site.jobs["crush"], weighings)
    toll.disagree += [
        f"{one}: seed {seed}, {case}" for one in box.disagree + disagreements(box.folder / JOURNAL, ended=True)
    ]
    count(yard.truth, shown, done, weighings, toll, f"seed {seed}, {case}", WALL)


def _miscounted(jobs: StationJobs, weighings: list[Weighing]) -> list[str]:
    """List the jobs that are said to have other stays than the journal has weighings."""
    has = Counter(one.job for one in weighings)
    said = ((job, jobs.words.ended(job)) for job in jobs.jobs)
    return [text for job, text in said if not text.endswith(f" has ended with {many(has[job.id], 'stay')}.")]


def kill_within_stays(kills: int, seed: int, animals: int = 25, scenario: str = "calm", quiet: int = 0) -> StayToll:
    """Let days of a scenario pass, of each kind in turn, until there were so many kills.

    Each is a station's first day; it learns from `quiet` animals more before the first kill.
    """
    toll = StayToll()
    while toll.kills < kills:
        case = Case(tags=seed % 2 == 0, synchronised=seed // 2 % 2 == 0)
        with tempfile.TemporaryDirectory(dir=in_memory()) as folder:
            asyncio.run(_day(Path(folder), case, Yard.named(scenario, seed, animals + quiet), seed, toll, quiet))
        seed += 1
    return toll
