"""The box: a folder and the whole daemon in it, in this process, built anew after each kill.

A kill is what a kill leaves: the files as they are at that moment, from which another daemon is built; the one that was
killed is forgotten.  The clock is the yard's, and goes on while it is away.
"""

import asyncio
import shutil
import tempfile
from collections.abc import Awaitable, Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar
from unittest.mock import patch

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.events import Animal, Settled, Weighing, read_event
from neckyoke.bridge.journal.herd_tables import HerdReading
from neckyoke.bridge.journal.reading import read_only
from tests.support.daemon import CONFIG
from tests.support.herd_agreement import disagreements
from tests.support.power_day import in_memory

WALL = datetime.fromisoformat("2026-11-24T02:11:00Z").timestamp()
BOOT_S = 1000.0
JOURNAL = "neckyoke.db"
DRENCH = 'title = "Autumn"\n[[treatments]]\nname = "oral drench"\nml = 10\nwithhold_days = 28\n'
READING_S, SELDOM_S, LONG_S = 0.1, 0.5, 20.0
"""An empty platform is read less often where it is empty for long."""
T = TypeVar("T")


class Box:
    """`sheet`: the job sheet's text; `told`: more lines of the station's table; `boots`: a restart is one of all.

    `slow_s`: so far its clock is behind, until it hears the time.
    """

    def __init__(
        self,
        folder: Path,
        *,
        synchronised: bool = True,
        sheet: str = DRENCH,
        told: str = "",
        boots: bool = False,
        slow_s: float = 0.0,
    ) -> None:
        self.t, self._slow_s = 0.0, slow_s
        self._folder, self._synchronised, self._lives, self._boots = folder, synchronised, 0, boots
        self.folder = folder / "0"
        self.folder.mkdir()
        text = CONFIG.format(indicator="serial:/dev/none0?baud=9600", panel="serial:/dev/none1?baud=9600")
        assert "capacity_kg = 1500\n" in text
        text = text.replace("capacity_kg = 1500\n", f'sheet = "sheet.toml"\n{told or "capacity_kg = 1500"}\n')
        (self.folder / "neckyoke.toml").write_text(text, encoding="utf-8")
        (self.folder / "sheet.toml").write_text(sheet, encoding="utf-8")
        self.disagree: list[str] = []
        self.service: Service | None = None

    async def start(self) -> None:
        """Begin a run with what the one before left."""
        began = self._lives * 10_000.0 if self._boots else 0.0
        clock = WallClock(lambda: BOOT_S + self.t - began, lambda: WALL + self.t - self._slow_s, self._is_right)
        boot = f"boot {self._lives if self._boots else 0}"
        with patch("neckyoke.bridge.daemon.build.boot_id", return_value=boot):
            self.service = await build(load_config(self.folder / "neckyoke.toml"), clock)
        for link in ("indicator", "panel"):
            self.service.pipeline.changed(link, "up", "", None)
        await self.service.journal.append()
        kept = (read_event(body).data for body in await self.service.journal.herd(HerdReading.animals))
        spelled = {one.animal: one.model_dump_json() for one in kept if isinstance(one, Animal)}
        if spelled != self.service.pipeline.site.keeper.book.bodies():
            self.disagree.append("the book in memory is not the journal's")

    def _is_right(self) -> bool:
        return self._synchronised

    def hears_the_time(self) -> None:
        """Let its clock be right from now on."""
        assert self.service is not None
        self._synchronised, self._slow_s = True, 0.0
        self.service.clock.sample()
        self.service.pipeline.restamp()

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

    async def finish(self) -> None:
        """End the run in order."""
        assert self.service is not None
        self.service.pipeline.finish()
        await self.service.pipeline.keep_memory(5.0)
        await self.service.journal.close()

    async def restart(self, away_s: float) -> None:
        """Kill it, and begin anew so much later."""
        await self.kill()
        self.t += away_s
        await self.start()

    async def shows(self, s: float, kg: float, tag: str | None = None) -> None:
        """Let the indicator show a weight for so long, ten readings a second, and the panel a tag, two."""
        assert self.service is not None
        every_s = READING_S if kg or s < LONG_S else SELDOM_S
        for n in range(round(s / every_s)):
            self.t += every_s
            shown = kg + 0.5 * (n % 3 - 1) if kg else 0.0
            self.service.pipeline.took("indicator", f"ST,GS,{shown:+09.1f}kg\r\n".encode())
            if tag is not None and n % 5 == 2:
                self.service.pipeline.took("panel", f"{tag[:3]} {tag[3:]}\r\n".encode())
            if n % 10 == 0:
                await self.to(self.t)
        await self.to(self.t)

    async def says(self, **request: Any) -> dict[str, Any]:
        """Let a person say something; return the answer."""
        assert self.service is not None
        answer = await self.service.desk.ask({"station": "crush", **request})
        await self.service.journal.append()
        return answer

    @property
    def has_shown(self) -> bool:
        """Whether this run has shown any animal's weight."""
        return self.service is not None and "crush" in self.service.pipeline.site.settled

    def shown(self) -> Settled:
        """Return what the phone shows of the animal that stands there."""
        assert self.service is not None
        return self.service.pipeline.site.settled["crush"]

    def weighings(self) -> list[Weighing]:
        """Return the newest revision of every weighing, in order."""
        with read_only(_beside(self.folder / JOURNAL)) as journal:
            found = [read_event(body).data for body in journal.latest()]
        return sorted((one for one in found if isinstance(one, Weighing)), key=lambda one: one.number)


def _beside(journal: Path) -> Path:
    """Copy a journal with all that belongs to it, so that looking changes nothing of what was left."""
    folder = journal.parent / "looked-at"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for path in journal.parent.glob(f"{journal.name}*"):
        shutil.copy(path, folder)
    return folder / journal.name


def lived(day: Callable[[Box], Awaitable[T]], **how: Any) -> T:
    """Let a day pass on a box of its own."""

    async def live() -> T:
        with tempfile.TemporaryDirectory(dir=in_memory()) as folder:
            box = Box(Path(folder), **how)
            await box.start()
            try:
                return await day(box)
            finally:
                if box.service is not None:
                    await box.service.journal.close()

    return asyncio.run(live())


def given(weighings: Iterable[Weighing]) -> list[bool]:
    """Return of each whether its one dose is recorded as given."""
    return [not dose.skipped for one in weighings for dose in one.treatments]
