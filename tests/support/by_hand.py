"""The daemon's insides by hand: its clock and its bytes are the test's, nothing else runs.

What comes in goes through pipeline, journal and capture as in the daemon; no task listens to any wire.
"""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.events import Weighing
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


class ByHand:
    """A box of which every byte and moment is given.  `t` is monotonic seconds."""

    def __init__(self) -> None:
        self.t = 0.0
        self.began = 0.0  # seconds of the yard at which this run began
        self.service: Service

    async def to(self, yard: Yard, t: float) -> None:
        """Let the yard's bytes come up to `t`; an animal that is looked up is found before the next byte."""
        for moment, link, data in yard.items():
            at = moment - self.began
            if self.t < at <= t - self.began:
                self.t = at
                self.service.pipeline.took(link, data)
                await asyncio.gather(*self.service.pipeline.lookup._looking)
        self.t = t - self.began
        self.service.pipeline.advance()

    async def say(self, kind: str, **words: Any) -> dict[str, Any]:
        """Ask, as a phone does."""
        return await self.service.desk.ask({"kind": kind, **words})

    async def weighings(self) -> dict[int, Weighing]:
        """Return the newest revision of each weighing by its number, as the journal has it."""
        await self.service.journal.append()
        found = (event.data for event in await self.service.journal.weighings())
        return {data.number: data for data in found if isinstance(data, Weighing)}


@asynccontextmanager
async def by_hand(
    folder: Path,
    more: str = "",
    *,
    head: str = "",
    sheet: str | None = "sheet.toml",
    later_h: float = 0.0,
    begins_s: float = 0.0,
) -> AsyncIterator[ByHand]:
    """Build a box in a folder whose `sheet` holds, if one is to; `head` and `more` stand around its tables.

    It starts `later_h` hours into the day, or in the middle of a yard that is played, at `begins_s`; it stops at the
    end of the block.
    """
    text = CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002")
    if sheet is not None:
        text = text.replace('scale = "indicator"', f'scale = "indicator"\nsheet = "{sheet}"')
    (folder / "neckyoke.toml").write_text(f'timezone = "UTC"\n{head}\n{text}{more}')
    box = ByHand()
    box.began = begins_s
    began = STARTED.timestamp() + later_h * 3600 + begins_s
    clock = WallClock(monotonic=lambda: box.t, realtime=lambda: began + box.t, probe=lambda: True)
    box.service = await build(load_config(folder / "neckyoke.toml"), clock)
    for link in ("indicator", "panel"):
        box.service.pipeline.changed(link, "up", "", None)
    try:
        yield box
    finally:
        if box.service.pipeline.capture is not None:
            await box.service.pipeline.capture.flush(end=True)
        await box.service.journal.close()
