"""Tries the patterns of one's own layouts on hard lines, before a device does: `neckyoke check`.

A match that takes long cannot be broken off from within, so it is tried in a process of its own, which the system ends
when a pattern has had its time.  That is counted as the processor's: a busy neighbour makes no pattern slow.  A frame
has at most `CAP` bytes; a small board takes some 10 times as long as a desk computer, and while it matches a station
stands still: `SLOW_S` for one frame is too long already.
"""

import json
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping

from neckyoke.protocols.framing.base import CAP
from neckyoke.protocols.scale.patterns import hard_lines

SLOW_S = 0.02
"""Processor seconds that one frame may take at most."""
TRIES = 3
"""Tries that a slow line has."""
PATIENCE_S = 5.0
"""Processor seconds that all tries of a pattern may take."""


def slow_layouts(patterns: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Try patterns by the names of their layouts; yield those that are slow, and how slow."""
    waiting = dict(patterns)
    while waiting:
        for line in _try(waiting):
            name, seconds = json.loads(line)
            waiting.pop(name)
            if seconds > SLOW_S:
                yield name, f"one frame can take {seconds:.2g} s"
        if waiting:  # the first of those left was not done in time
            name = next(iter(waiting))
            waiting.pop(name)
            yield name, f"one frame can take longer than {PATIENCE_S:.0f} s"


def _try(patterns: Mapping[str, str]) -> list[str]:
    """Return what the process said before it ended, or was ended: a line a pattern, in order."""
    command = [sys.executable, "-m", __name__, str(PATIENCE_S)]
    ran = subprocess.run(  # noqa: S603  # our own interpreter, and this module
        command, check=False, input=json.dumps(patterns).encode(), capture_output=True
    )
    return [line for line in ran.stdout.decode().splitlines() if line.endswith("]")]


def slowest_s(pattern: re.Pattern[bytes]) -> float:
    """Return the processor seconds of the slowest line, of growing length until one is slow."""
    length, slowest = 16, 0.0
    while True:
        for line in hard_lines(pattern, length):
            slowest = max(slowest, _taken_s(pattern, line))
        if slowest > SLOW_S or length == CAP:
            return slowest
        length = min(CAP, length + max(4, length // 4))


def _taken_s(pattern: re.Pattern[bytes], line: bytes) -> float:
    """Return the least processor seconds of up to `TRIES` tries: a busy neighbour makes a quick line slow, but once."""
    taken: list[float] = []
    while not taken or (taken[-1] > SLOW_S and len(taken) < TRIES):
        began = time.thread_time()
        pattern.fullmatch(line)
        taken.append(time.thread_time() - began)
    return min(taken)


if __name__ == "__main__":
    for called, text in json.load(sys.stdin).items():
        signal.setitimer(signal.ITIMER_VIRTUAL, float(sys.argv[1]))  # its signal, not heeded, ends the process
        print(json.dumps([called, slowest_s(re.compile(text.encode("latin-1")))]), flush=True)
