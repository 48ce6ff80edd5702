"""Lets time pass: the stations' deadlines, the live views, and the wall clock, each at its own pace."""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, field

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.daemon.gather import Lag, platform
from neckyoke.bridge.daemon.pipeline import Pipeline
from neckyoke.bridge.daemon.request_handler import Desk
from neckyoke.bridge.events import Attention
from neckyoke.bridge.outlets.follower import Follower
from neckyoke.bridge.telling.fanout import Live
from neckyoke.bridge.telling.status import PlatformView

TICK_S = 0.1
"""How often time is let pass without any input; deadlines are met in order whatever this is."""
LIVE_S = 0.2
"""How often a changed platform is shown to watchers."""
CLOCK_S = 1.0
"""How often the wall clock is looked at."""


@dataclass(slots=True)
class Pace:
    """`tick` and `watch_clock` each go on until cancelled."""

    clock: WallClock
    pipeline: Pipeline
    desk: Desk
    outlets: Mapping[str, Follower]
    lag: Lag
    _shown: dict[str, PlatformView] = field(default_factory=dict)

    async def tick(self) -> None:
        """Let time pass, and show platforms that changed."""
        due = self.clock.now()
        shown_at = due
        while True:
            due += TICK_S
            await asyncio.sleep(max(0.0, due - self.clock.now()))
            now = self.clock.now()
            self.lag.s = round(now - due, 3)
            due = max(due, now - TICK_S)
            self.pipeline.advance()
            if now - shown_at >= LIVE_S - 0.01:
                shown_at = now
                self._show()

    def _show(self) -> None:
        for name in self.pipeline.site.stations:
            view = platform(self.pipeline.site, name)
            if view != self._shown.get(name):
                self._shown[name] = view
                self.pipeline.hub.put(Live(name, view))
                for outlet in self.outlets.values():
                    outlet.show(name, view)

    async def watch_clock(self) -> None:
        """Report when the wall clock is set, and amend what was published before it was known."""
        while True:
            await asyncio.sleep(CLOCK_S)
            step = self.clock.sample()
            if step is not None:
                text = f"The clock was set: {abs(step.delta_s):.1f} s {'forward' if step.delta_s > 0 else 'back'}."
                self.pipeline.say(Attention(station=None, about="clock", text=text, over=True, lasted_s=0.0))
            waits = len(self.pipeline.corrections) and not self.desk.looks_back
            if self.clock.state == "synchronised" and waits:
                self.pipeline.restamp()
