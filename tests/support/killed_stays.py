"""Killing the daemon within stays: for each stay, how many weighings it has in the end.

The daemon is built whole, in this process (tests/support/box.py), and fed a simulated yard as fast as it can take it.
tests/support/killed_daemon.py kills real processes.
"""

import asyncio
import random
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from neckyoke.bridge.events import Flag, Weighing, read_event
from neckyoke.bridge.journal.reading import read_only
from neckyoke.bridge.many import many
from neckyoke.bridge.site.station_jobs import StationJobs
from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import WeightReading
from neckyoke.simulators.yard import Yard
from tests.support.box import JOURNAL, WALL, Box
from tests.support.herd_agreement import disagreements
from tests.support.power_day import in_memory
from tests.support.stay_toll import StayToll, count, plan

TICK_S = 0.1


@dataclass(slots=True)
class Case:
    """A kind of day: with tags or none, its clock synchronised or not."""

    tags: bool
    synchronised: bool


async def _day(folder: Path, case: Case, yard: Yard, seed: int, toll: StayToll, quiet: int) -> None:
    chance = random.Random(seed)
    plans = {stay.number: plan(chance, stay) for stay in yard.truth[max(1, quiet) : -1] if chance.random() < 0.8}
    gaps = sorted(
        (stay.on_t + at, stay.on_t + at + away_s)
        for stay in yard.truth
        if stay.number in plans
        for at, away_s in plans[stay.number]
    )
    scenario = yard.scenario
    told = f"smallest_kg = {scenario.smallest_kg}\ncapacity_kg = {scenario.indicator.capacity_kg}"
    box = Box(folder, synchronised=case.synchronised, told=told)
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
