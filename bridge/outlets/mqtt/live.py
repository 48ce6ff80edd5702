"""What a platform shows, at a broker: retained, and never for longer than it is true.

A light or a gate may go by `may_leave`, so what stands there must not outlive what it says.  A connection has one will,
and that of the delivering one speaks for the daemon; so each platform is shown over a small connection of its own:

    begins                      what is shown now takes the place of whatever an earlier run left there
    shown anew                  at most five times a second; again after `AGAIN_S` without a change
    stops, or is left           says offline
    killed, cut off, frozen     the broker says offline by the will; MQTT 5 also forgets it after `WORTH_S`

MQTT 3.1.1 has no expiry: a broker that dies together with this box would still have it on its disk.  There it is shown
without being retained, and what stands retained is empty, or says offline.
"""

import asyncio
from collections.abc import Callable
from functools import partial

from neckyoke.bridge.outlets.follow import Backoff
from neckyoke.bridge.outlets.mqtt.broker import BrokerError, TooLargeError
from neckyoke.bridge.outlets.mqtt.connection import Connection
from neckyoke.bridge.telling.alerts import Troubles
from neckyoke.bridge.telling.status import PlatformView

EVERY_S = 0.2
AGAIN_S = 8.0
WORTH_S = 20
STEADY_S = 10.0


def offline(station: str) -> str:
    """Spell what a platform shows when nobody looks after it."""
    return PlatformView(
        station=station,
        state="offline",
        kg=None,
        moving=None,
        number=None,
        weighing=None,
        tag=None,
        tags_seen=0,
        settled_kg=None,
        grade=None,
        missing=(),
        may_leave=False,
        next="neckyoke is not running: do not go by this.",
    ).model_dump_json()


class Showcase:
    """One platform at one broker.  `show` what it shows; `run` until cancelled, with a connection from `make`."""

    def __init__(
        self,
        station: str,
        make: Callable[[str, str, str], Connection],
        top: str,
        troubles: Troubles,
        about: str,
        chance: Callable[[], float],
    ) -> None:
        self._station, self._make, self._troubles, self._about = station, make, troubles, f"{about}-live-{station}"
        self._topic = f"{top}/{station}/platform"
        self._backoff = Backoff(1.0, 60.0, chance)
        self._view = ""
        self._fresh = asyncio.Event()

    def show(self, view: PlatformView) -> None:
        """Show this from now on; what cannot be sent is replaced by what comes after it."""
        self._view = view.model_dump_json()
        self._fresh.set()

    async def run(self) -> None:
        """Show it; a connection that is lost or refused is said once and made again."""
        while True:
            connection = self._make(self._station, self._topic, offline(self._station))
            try:
                await connection.enter()
                await self._show(connection)
            except (BrokerError, TooLargeError) as error:
                if getattr(error, "slow", False):
                    self._backoff.slow_down()
                text = f"{error}. What the platform shows is not shown there; events are delivered all the same."
                self._troubles.begin(self._about, text)
            finally:
                await connection.leave(offline(self._station))
            await asyncio.sleep(self._backoff.wait_s())

    async def _show(self, connection: Connection) -> None:
        if not connection.five:
            await connection.acknowledged(connection.post(self._topic, "", retain=True))
        steady = asyncio.get_running_loop().call_later(STEADY_S, partial(self._steady, connection))
        try:
            while True:
                self._fresh.clear()
                connection.toss(self._topic, self._view, expires_s=WORTH_S)
                await asyncio.sleep(EVERY_S)
                await connection.until_lost(self._fresh.wait(), AGAIN_S)
        finally:
            steady.cancel()

    def _steady(self, connection: Connection) -> None:
        self._backoff.reset()
        self._troubles.end(self._about, f"The platform is shown at {connection.broker} again.")
