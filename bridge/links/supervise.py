"""Keeps one link open for as long as the daemon runs, and says what becomes of it.

A supervisor makes a link, opens it, watches it, and makes the next one when it ends.  What it knows of the link is one
phase (phases.py), and what it tells of it are the four states.  Between lives it waits, 1 s at first and twice as long
after each failure up to 30 s, with some chance added so that many boxes do not knock together.  A device seen to come
back (its node appears or changes) is tried at once.  Nothing that a device, a driver or a network does ends a
supervisor; only `run` being cancelled does.
"""

import asyncio
import random
import time
from collections.abc import Awaitable, Callable
from dataclasses import asdict, dataclass
from typing import TypeAlias

from neckyoke.bridge.config.escapes import spelled_bytes
from neckyoke.bridge.config.model import Poll
from neckyoke.bridge.links.phases import AWAY, TABLE, TOLD, Phase, Sign, State
from neckyoke.bridge.links.wires.link import Link, LinkTrouble, OnBytes, OnLost

__all__ = ["Counters", "State", "Supervisor"]

MakeLink: TypeAlias = Callable[[OnBytes, OnLost], Link]
OnState: TypeAlias = Callable[[str, State, str, float | None], None]

FIRST_WAIT_S = 1.0
LONGEST_WAIT_S = 30.0
SETTLE_S = 0.1  # from a node's appearing to its being usable: udev still sets its group
GLANCE_S = 0.5  # how often a missing device is looked for
STABLE_S = 10.0  # a life shorter than this counts as a failure
REPEAT_S = 600.0  # between tellings of one outage
RATE_S = 10.0  # the stretch over which the byte rate is taken


@dataclass(slots=True)
class Counters:
    """What happened to one link since the start."""

    bytes: int = 0
    openings: int = 0
    failures: int = 0
    losses: int = 0
    silences: int = 0
    writes_failed: int = 0


class Supervisor:
    """Keeps one link open; see the module.

    `make` makes a link from its two callbacks.  `on_bytes(name, data)` and `on_state(name, state, text, lasted_s)` are
    called on the event loop; a state is told before the bytes that caused it.  `now`, `sleep` and `rng` are for tests.
    """

    def __init__(
        self,
        name: str,
        make: MakeLink,
        *,
        on_bytes: Callable[[str, bytes], None],
        on_state: OnState,
        silent_s: float | None = None,
        reopen_when_silent: bool = False,
        poll: Poll | None = None,
        now: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        rng: random.Random | None = None,
    ) -> None:
        self.name = name
        self.counters = Counters()
        self.text = ""
        self._make = make
        self._on_bytes = on_bytes
        self._on_state = on_state
        self._silent_s = silent_s
        self._reopen_when_silent = reopen_when_silent
        self._poll = poll
        self._request = spelled_bytes(poll.send) if poll else b""
        self._now = now
        self._sleep = sleep
        self._rng = rng or random.Random()  # noqa: S311  # jitter, not a secret
        self._phase = Phase.START
        self._state: State | None = None
        self._since = self._told_at = now()
        self._link: Link | None = None
        self._loss: LinkTrouble | None = None
        self._opened_at = 0.0
        self._last_byte: float | None = None
        self._heard_from = now()  # the last byte, or the opening when none came since
        self._in_a_row = 0  # failures and short lives
        self._fruitless = False
        self._seen: object = None  # of the device's node, when it was last looked for
        self._came_back_at = float("-inf")
        self._stir = asyncio.Event()
        self._rate = (now(), 0)
        self.bytes_per_s = 0.0

    @property
    def state(self) -> State | None:
        """The state last told; None before the first."""
        return self._state

    def health(self) -> dict[str, object]:
        """Return state, text, counters and the age of the last byte, for status figures."""
        age = None if self._last_byte is None else round(self._now() - self._last_byte, 1)
        return {
            "state": self._state,
            "text": self.text,
            **asdict(self.counters),
            "bytes_per_s": round(self.bytes_per_s, 1),
            "last_byte_age_s": age,
        }

    async def run(self) -> None:
        """Keep the link open until cancelled; then close it."""
        while True:
            link = await self._live()
            await self._wait(link)

    async def write(self, data: bytes) -> None:
        """Send bytes to the device (a zero command, say).  Raises LinkTrouble when it is not open."""
        if self._link is None:
            raise LinkTrouble(f"{self.name} is not open: {self.text}")
        await self._link.write(data)

    # one life

    async def _live(self) -> Link | None:
        """Open a link, watch it to its end, close it.  Whatever goes wrong is told, not raised."""
        self._loss = None
        link: Link | None = None
        try:
            link = self._make(self._arrived, self._lost)
            self._seen = link.trace()
            await link.open()
            self._opened(link)
            await self._watch(link)
        except LinkTrouble as trouble:
            self._failed(trouble)
        except Exception as error:  # noqa: BLE001  # a driver's surprise must not end the daemon
            self._failed(LinkTrouble(f"{type(error).__name__}: {error}"))
        finally:
            self._link = None
            if link is not None:
                await link.close()
        return link

    def _opened(self, link: Link) -> None:
        self._link = link
        self.counters.openings += 1
        self._opened_at = self._now()
        self._heard_from = max(self._heard_from, self._opened_at)
        self._sign(Sign.REOPENED if self._fruitless else Sign.OPENED, "")

    def _failed(self, trouble: LinkTrouble) -> None:
        self.counters.failures += 1
        self._in_a_row += 1
        self._sign(Sign.ABSENT if trouble.missing else Sign.REFUSED, trouble.text)
        self._sign(Sign.ENDED, trouble.text)  # in case it was open: the two signs never move the same phase

    async def _watch(self, link: Link) -> None:
        async with asyncio.TaskGroup() as tasks:
            polling = tasks.create_task(self._ask(link)) if self._poll else None
            try:
                await self._watch_time()
            finally:
                if polling:
                    polling.cancel()
        held = self._now() - self._opened_at >= STABLE_S
        self._fruitless = not held and self._heard_from <= self._opened_at
        self._in_a_row = 0 if held else self._in_a_row + 1

    async def _watch_time(self) -> None:
        """Move the phase by time until the life ends."""
        while self._loss is None:
            now = self._now()
            if now >= self._opened_at + STABLE_S:
                self._sign(Sign.HELD, "")
            quiet_at = self._heard_from + self._silent_s if self._silent_s else float("inf")
            if now >= quiet_at:
                self._silence(now)
                if self._reopen_when_silent:
                    return
                quiet_at = now + GLANCE_S
            held_at = self._opened_at + STABLE_S if self._phase is Phase.TRIAL else float("inf")
            await self._pause(min(quiet_at, held_at, now + 3600.0) - now)

    def _silence(self, now: float) -> None:
        if self._phase is not Phase.SILENT:
            self.counters.silences += 1
        self._sign(Sign.QUIET, f"no byte for {now - self._heard_from:.0f} s: is the device on, and sending by itself?")

    async def _ask(self, link: Link) -> None:
        assert self._poll is not None
        while True:
            try:
                await link.write(self._request)
            except LinkTrouble:
                self.counters.writes_failed += 1
            await self._sleep(self._poll.every_s)

    # called by the link

    def _arrived(self, data: bytes) -> None:
        now = self._now()
        self._heard_from = self._last_byte = now
        self.counters.bytes += len(data)
        began, count = self._rate
        self._rate = (began, count + len(data))
        if now - began >= RATE_S:
            self.bytes_per_s = (count + len(data)) / (now - began)
            self._rate = (now, 0)
        if self._phase is not Phase.UP:
            self._sign(Sign.BYTES, "")
        self._on_bytes(self.name, data)

    def _lost(self, trouble: LinkTrouble) -> None:
        self._loss = trouble
        self._link = None
        self.counters.losses += 1
        self._sign(Sign.ENDED, trouble.text)
        self._stir.set()

    # telling

    def _sign(self, sign: Sign, text: str) -> None:
        after = TABLE.get((self._phase, sign))
        if after is None:
            return
        self._phase = after
        self.text = text
        state = TOLD.get(after)
        if state is None or state == self._state:
            return
        now = self._now()
        same_outage = state in AWAY and self._state in AWAY
        if same_outage and now - self._told_at < REPEAT_S:
            return
        lasted_s = None if self._state is None else now - self._since
        self._state = state
        self._told_at = now
        if not same_outage:
            self._since = now
        self._on_state(self.name, state, text, lasted_s)

    # waiting

    async def _wait(self, link: Link | None) -> None:
        """Wait before the next life; not at all long when the device is seen to come back."""
        steps = max(0, self._in_a_row - 1)
        wait_s = min(LONGEST_WAIT_S, FIRST_WAIT_S * 2 ** min(steps, 10)) * self._rng.uniform(0.75, 1.25)
        until = self._now() + wait_s
        while (left := until - self._now()) > 0:
            if link is not None and self._came_back(link):
                self._in_a_row, self._fruitless = 0, False  # a device plugged in anew is believed anew
                await self._sleep(SETTLE_S)
                return
            await self._pause(min(GLANCE_S, left) if link else left)

    def _came_back(self, link: Link) -> bool:
        """Return whether the device's node is there and another than before, at most once a second."""
        before, self._seen = self._seen, link.trace()
        if self._seen in {None, before} or self._now() - self._came_back_at < FIRST_WAIT_S:
            return False
        self._came_back_at = self._now()
        return True

    async def _pause(self, seconds: float) -> None:
        """Sleep, or until stirred."""
        nap = asyncio.ensure_future(self._sleep(max(0.0, seconds)))
        stir = asyncio.ensure_future(self._stir.wait())
        try:
            await asyncio.wait({nap, stir}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            nap.cancel()
            stir.cancel()
        self._stir.clear()
