"""One clock for a simulated yard and the daemon that weighs it, many times as fast as ours, that neither can outrun.

A busy machine lets one of the two wait for some tenths of a second, which at eight times the speed are seconds of the
yard: frames would come in heaps, and an animal weigh what it never did.  So this clock goes on only while both look at
it: of a time in which one did not, `STALL_S` of the yard count.  It lives in a file, for two processes.
"""

import asyncio
import fcntl
import mmap
import os
import struct
import time
from collections.abc import Iterable, Mapping
from pathlib import Path

from neckyoke.simulators.wires.ends import End, play

STALL_S = 0.2
DAEMON, YARD = 0, 1
_STATE = struct.Struct("5d")  # seconds gone, when last looked at, when by the daemon and by the yard (0: away), 1970's


class YardClock:
    """Seconds since it was made, `speed` times as fast as ours.  Called, it is the daemon's look at it."""

    def __init__(self, speed: float, path: Path | None = None) -> None:
        """Make one in a file, or take up the one that is there; without a file it is of this process alone."""
        self.speed, self.stall_s = speed, STALL_S / speed
        self._file = -1 if path is None else os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        new = path is None or not os.fstat(self._file).st_size
        if path is not None:
            os.ftruncate(self._file, _STATE.size)
        self._state = mmap.mmap(self._file, _STATE.size)
        if new:
            self._state[:] = _STATE.pack(0.0, time.monotonic(), 0.0, 0.0, time.time())

    def __call__(self) -> float:
        """Return the daemon's time."""
        return self.look(DAEMON)

    def wall(self) -> float:
        """Return the wall clock's time, which goes as fast: seconds since 1970."""
        return float(_STATE.unpack(self._state)[4]) + self.look(DAEMON)

    def look(self, who: int) -> float:
        """Return the time for one of the two, who is awake; in one process, both are."""
        return self._set(who if self._file >= 0 else DAEMON, time.monotonic())

    def leave(self, who: int) -> None:
        """Go on without one of the two."""
        if self._file >= 0:
            self._set(who, 0.0)

    def _set(self, who: int, at: float) -> float:
        if self._file >= 0:
            fcntl.flock(self._file, fcntl.LOCK_EX)
        try:
            gone, seen, *there, began = _STATE.unpack(self._state)
            now = time.monotonic()
            gone += max(0.0, min([now, *(one + self.stall_s for one in there if one)]) - seen)
            there[who] = at
            self._state[:] = _STATE.pack(gone, now, *there, began)
        finally:
            if self._file >= 0:
                fcntl.flock(self._file, fcntl.LOCK_UN)
        return float(gone) * self.speed

    async def play(self, items: Iterable[tuple[float, str, bytes]], ends: Mapping[str, End]) -> None:
        """Play a yard on real ends, by this clock."""

        async def rest(yard_s: float) -> None:
            end = self.look(YARD) + yard_s
            while (left := end - self.look(YARD)) > 0:  # noqa: ASYNC110 -- it is time that is waited for
                await asyncio.sleep(min(left / self.speed, self.stall_s / 2))

        try:
            await play(items, ends, clock=lambda: self.look(YARD), sleep=rest)
        finally:
            self.leave(YARD)
