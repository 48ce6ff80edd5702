"""Monotonic time for deciding, wall time for telling, and whether the wall clock can be trusted.

A box without a battery clock starts with a time from before its power cut, jumps forward when it hears the right one,
or never hears it.  So everything is decided in monotonic seconds; wall time is made from those when something is
published: offset + t, the offset sampled once a second.  All moments of one stay are made with one offset, so that a
clock set in mid-stay moves the stay and does not stretch it.

    unknown or unsynchronised --(the kernel says that it is synchronised)--> synchronised
    synchronised --(it leaps, by more than LEAP_S)--> unsynchronised: it was wrong before, or it is now
    unsynchronised by a leap --(it is back where it was, or has stood for SURE_S; the kernel says so)--> synchronised

The kernel takes its word back after some nine hours offline (its error bound reaches 16 s); a crystal is off by a
second or two a day, which no weighing minds, so the word stands here, but for a leap.  What was published before it
came, or during a leap, can be corrected: `Corrections`.
"""

import ctypes
import ctypes.util
import json
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple

from neckyoke.bridge.events import Clock, Stamp, Weighing, spell_time

LEAP_S = 60.0
"""A synchronised clock that is put by more than this has been wrong, or is."""
SURE_S = 1800.0
"""How long it must stand where it leapt to, before it is believed again."""
STEP_S = 0.5
"""A change of the offset beyond this within a sample is a step: slewing does at most 0.5 ms a second."""
TIME_ERROR = 5
"""What adjtimex(2) returns while the clock is not synchronised."""
BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
WAITING, BOOT = "unclocked/", "unclocked/boot"
CORRECTIONS_KEPT = 2000
TIMESYNC_MARK = Path("/run/systemd/timesync/synchronized")


@dataclass(frozen=True, slots=True)
class Step:
    """The wall clock was set: it jumped by `delta_s` against monotonic time."""

    delta_s: float


class WallClock:
    """The clock of one run: `now` counts from its making.  The three sources are injectable.

    `monotonic` gives seconds since boot, `realtime` seconds since 1970, `probe` whether the wall clock is synchronised,
    None when that cannot be told.
    """

    def __init__(
        self,
        monotonic: Callable[[], float] = time.monotonic,
        realtime: Callable[[], float] = time.time,
        probe: "Callable[[], bool | None] | None" = None,
    ) -> None:
        self._monotonic = monotonic
        self._realtime = realtime
        self._probe = probe or kernel_synchronised
        self._start = monotonic()
        self.offset = realtime() - self._start
        self.state = _state(self._probe())
        self.steps = 0
        self._before_leap: float | None = None  # the offset of before the leap that is doubted
        self._leapt_at = 0.0

    @property
    def began_s(self) -> float:
        """When this run began, in monotonic seconds since boot."""
        return self._start

    @property
    def up_s(self) -> float:
        """The time since the boot, in seconds."""
        return self._monotonic()

    def now(self) -> float:
        """Return monotonic seconds since this run began."""
        return self._monotonic() - self._start

    def stamp(self, t: float) -> Stamp:
        """Turn monotonic seconds of this run into wall time: a `Stamper`."""
        return Stamp(datetime.fromtimestamp(self.offset + self._start + t, UTC), self.state)

    def trusted(self) -> float | None:
        """Return seconds since 1970, or None while the clock cannot be trusted."""
        return self._realtime() if self.state is Clock.SYNCHRONISED else None

    def sample(self) -> Step | None:
        """Look at both clocks; call it once a second.  Gives the step when the wall clock was set since the last."""
        offset = self._realtime() - self._monotonic()
        delta_s = offset - self.offset
        self.offset = offset
        if self.state is Clock.SYNCHRONISED:
            if abs(delta_s) > LEAP_S:
                self.state = Clock.UNSYNCHRONISED
                self._before_leap, self._leapt_at = offset - delta_s, self.now()
        else:
            self._leapt_at = self.now() if abs(delta_s) > LEAP_S else self._leapt_at
            believed = self._before_leap is None or self._is_over(offset)
            self.state = _state(self._probe()) if believed else Clock.UNSYNCHRONISED
        if self.state is Clock.SYNCHRONISED:
            self._before_leap = None
        if abs(delta_s) <= STEP_S:
            return None
        self.steps += 1
        return Step(delta_s)

    def _is_over(self, offset: float) -> bool:
        """Return whether a leap is over: the clock is back where it was, or has stood for long where it is."""
        assert self._before_leap is not None, "it leapt"
        return abs(offset - self._before_leap) <= LEAP_S or self.now() - self._leapt_at >= SURE_S


def _state(synchronised: bool | None) -> Clock:  # noqa: FBT001  # the probe's answer, as it is
    if synchronised is None:
        return Clock.UNKNOWN
    return Clock.SYNCHRONISED if synchronised else Clock.UNSYNCHRONISED


def kernel_synchronised() -> bool | None:
    """Ask the kernel, then systemd's time service, whether the wall clock is synchronised.

    adjtimex(2) with modes 0 only reads; its return value tells without a look into the structure, whose layout differs
    between machines (208 bytes at most, measured on 64 bits).  Any time service sets the kernel's flag.
    """
    try:
        state = ctypes.CDLL(None, use_errno=True).adjtimex(ctypes.create_string_buffer(512))
    except (OSError, AttributeError):
        state = -1
    if state >= 0:
        return bool(state != TIME_ERROR)
    return True if TIMESYNC_MARK.exists() else None


def boot_id() -> str:
    """Name this boot; monotonic time means something only within one."""
    try:
        return BOOT_ID.read_text().strip()
    except OSError:
        return "unknown"


class Corrected(NamedTuple):
    """A weighing before and after its times were put right; `boot`: when this boot began, by the clock of before."""

    before: Weighing
    after: Weighing
    boot: datetime


def corrected(weighing: Weighing, delta_s: float, boot: datetime, up_s: float) -> Corrected:
    """Amend a weighing whose times were taken before the clock was known: all of this boot moved by `delta_s`.

    `boot`: when it began, by the clock of then; `up_s`: for how long it has lasted.
    """
    delta, until = timedelta(seconds=delta_s), boot + timedelta(seconds=up_s)

    def moved(moment: datetime | None) -> datetime | None:
        return moment + delta if moment is not None and boot <= moment <= until else moment

    after = weighing.model_copy(
        update={
            "revision": weighing.revision + 1,
            "on": weighing.on + delta,
            "settled": weighing.settled and weighing.settled + delta,
            "off": weighing.off + delta,
            "clock": Clock.SYNCHRONISED,
            "final_at": weighing.final_at and weighing.final_at + delta,
            "findings": tuple(one.model_copy(update={"at": moved(one.at)}) for one in weighing.findings),
            "doses_said": tuple(one.model_copy(update={"at": moved(one.at)}) for one in weighing.doses_said),
            "treatments": tuple(
                one.model_copy(update={"given_before": moved(one.given_before)}) for one in weighing.treatments
            ),
            "why": f"the clock is known now; the times were {abs(delta_s):.0f} s {'early' if delta_s > 0 else 'late'}",
        }
    )
    return Corrected(weighing, after, boot)


class Corrections:
    """The weighings of this boot that were published before the clock was known; the last `CORRECTIONS_KEPT` of them.

    Write `changes()` to the journal and hand the values back after a restart: in the same boot nothing is forgotten, in
    another nothing can be corrected.  A shed may be offline for months, so each weighing is written once, by itself.
    """

    def __init__(self, boot: str, values: Mapping[str, str] = MappingProxyType({})) -> None:
        kept = {name: body for name, body in values.items() if name.startswith(WAITING)}
        same = boot != "unknown" and kept.pop(BOOT, None) == boot
        self._waiting = {name: body for name, body in kept.items() if same}
        self._changes: dict[str, str | None] = {BOOT: boot, **{name: None for name in kept if not same}}

    def note(self, weighing: Weighing, offset: float) -> None:
        """Remember the latest revision of a weighing, and the clock's offset when its times were made.

        A later revision of one that does not wait has times of another run, which nobody can correct.
        """
        name = WAITING + weighing.weighing
        if weighing.clock is not Clock.SYNCHRONISED:
            if weighing.revision > 1 and name not in self._waiting:
                return
            offset = self._made_at(name, weighing, offset)
            self._waiting[name] = self._changes[name] = json.dumps([weighing.model_dump(mode="json"), offset])
        elif name in self._waiting:
            del self._waiting[name]
            self._changes[name] = None
        if len(self._waiting) > CORRECTIONS_KEPT:
            oldest = next(iter(self._waiting))
            del self._waiting[oldest]
            self._changes[oldest] = None

    def _made_at(self, name: str, weighing: Weighing, offset: float) -> float:
        """Return the offset with which a weighing's times were made: the one before, when they are the times before."""
        if name in self._waiting:
            kept, then = json.loads(self._waiting[name])
            if kept["on"] == spell_time(weighing.on):
                return float(then)
        return offset

    def settle(self, offset: float, up_s: float) -> list[Corrected]:
        """Return the amended weighings, now that the offset is known to be right, and forget them.

        `up_s` is the time since the boot.
        """
        waiting = [json.loads(body) for body in self._waiting.values()]
        self._changes.update(dict.fromkeys(self._waiting))
        self._waiting.clear()
        return [
            corrected(Weighing.model_validate(weighing), offset - then, datetime.fromtimestamp(then, UTC), up_s)
            for weighing, then in waiting
        ]

    def __len__(self) -> int:
        """How many weighings wait for the clock."""
        return len(self._waiting)

    def changes(self) -> dict[str, str | None]:
        """Return what the journal does not know yet, by name; None takes a name out."""
        changes, self._changes = self._changes, {}
        return changes
