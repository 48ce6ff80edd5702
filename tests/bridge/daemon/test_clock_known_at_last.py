"""A box hears the time at last: what it weighed in an earlier run is put right before whom it has at hand is judged.

Which animals may be whose is a rule of our own (bridge/herd/identity.py), no outside source.
"""

import asyncio
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.events import Clock, Flag, Weighing, read_event
from neckyoke.bridge.journal.reading import read_only
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG

NO_TIME = datetime.fromisoformat("2020-01-01T00:00:00Z").timestamp()
"""What the box takes for the time of its boot, and what that was."""
BOOTED = datetime.fromisoformat("2026-11-24T02:11:00Z").timestamp()
SHEET = 'title = "Autumn"\n[[treatments]]\nname = "oral drench"\nml = 10\nwithhold_days = 28\n'
DAY_S = 86400.0
Item = tuple[float, str, bytes]


def newest(folder: Path) -> list[Weighing]:
    with read_only(folder / "neckyoke.db") as journal:
        data = [read_event(body).data for body in journal.latest()]
    return sorted((one for one in data if isinstance(one, Weighing)), key=lambda one: one.number)


class Box:
    """A box whose clock is in the test's hands: seconds since its boot, and whether it has heard the time."""

    up_s, heard = 0.0, False

    async def build(self, folder: Path) -> Service:
        clock = WallClock(
            lambda: self.up_s, lambda: (BOOTED if self.heard else NO_TIME) + self.up_s, lambda: self.heard
        )
        service = await build(load_config(folder / "neckyoke.toml"), clock)
        for link in ("indicator", "panel"):
            service.pipeline.changed(link, "up", "", None)
        return service

    def weigh(self, service: Service, items: Iterable[Item], day: int) -> None:
        for t, link, data in items:
            self.up_s = day * DAY_S + t
            service.pipeline.took(link, data)
        self.up_s += 60.0
        service.pipeline.advance()


async def weighed_without_the_time(folder: Path) -> tuple[list[Weighing], list[Weighing]]:
    """Weigh and drench one animal, and the next day, in another run, one that nobody knows; then let the time be heard.

    Return both weighings, before that and after.
    """
    yard, box = Yard.named("calm", 3, 2), Box()
    between = (yard.truth[0].off_t + yard.truth[1].on_t) / 2
    first = await box.build(folder)
    box.weigh(first, (item for item in yard.items() if item[0] < between), 0)
    first.pipeline.finish()
    await first.journal.close()
    second = await box.build(folder)
    box.weigh(second, (item for item in yard.items() if item[0] >= between), 1)
    await second.journal.append()
    before = newest(folder)
    box.heard = True
    second.clock.sample()
    second.pipeline.restamp()
    await second.journal.close()
    return before, newest(folder)


def test_whom_an_earlier_run_gave_a_dose_is_withheld_by_the_right_time_before_an_unknown_tag_is_judged(
    tmp_path: Path,
) -> None:
    text = CONFIG.format(indicator="serial:/dev/none0?baud=9600", panel="serial:/dev/none1?baud=9600")
    (tmp_path / "neckyoke.toml").write_text(text.replace("capacity_kg", 'sheet = "sheet.toml"\ncapacity_kg'))
    (tmp_path / "sheet.toml").write_text(SHEET)
    before, after = asyncio.run(weighed_without_the_time(tmp_path))
    for both, year in ((before, 2020), (after, 2026)):
        assert [one.on.year for one in both] == [year, year]
        drenched, unknown = both
        assert Flag.WHICH_ANIMAL not in drenched.flags
        assert Flag.WHICH_ANIMAL in unknown.flags, "it may be the drenched one with a new tag"
    assert [one.withheld_until for one in after[0].treatments] == ["2026-12-23"]
    assert {one.clock for one in after} == {Clock.SYNCHRONISED}
