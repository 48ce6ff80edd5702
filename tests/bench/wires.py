"""What each kind of wire costs: throughput and delay from the far end's write to the link's callback.

    python tests/bench/wires.py [lines]

The baseline, in the same run, is a bare loop of `os.write` and `os.read` on a pty, without an event loop.  The delay of
a wire holds everything between: the kernel, ser2net or the bus, and the link.
"""

import asyncio
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.simulators.wires.ends import PtyEnd
from tests.support.wires import WIRES, opened, wire

LINE = b"ST,GS,+00412.5kg\r\n"


def bare(lines: int, folder: Path) -> list[float]:
    """Write and read lines on a pty, one at a time."""
    delays = []
    with PtyEnd(folder / "bare") as end:
        fd = os.open(end.path, os.O_RDONLY | os.O_NOCTTY)
        for _ in range(lines):
            began = time.perf_counter()
            end.write(LINE)
            got = 0
            while got < len(LINE):
                got += len(os.read(fd, 4096))
            delays.append(time.perf_counter() - began)
        os.close(fd)
    return delays


async def over(kind: str, lines: int, folder: Path, monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Write lines to a link, one at a time, each when the one before has come."""
    delays = []
    async with wire(kind, folder, monkeypatch) as one:
        listener = await opened(one.url)
        came = asyncio.Event()
        got = 0

        def take(data: bytes) -> None:
            nonlocal got
            got += len(data)
            if got >= len(LINE):
                came.set()

        listener.link._on_bytes = take
        for _ in range(lines):
            got = 0
            came.clear()
            began = time.perf_counter()
            one.write(LINE)
            await came.wait()
            delays.append(time.perf_counter() - began)
        await listener.link.close()
    return delays


def main() -> None:
    """Measure all, and print each beside the baseline."""
    lines = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    with tempfile.TemporaryDirectory() as name:
        baseline = statistics.median(bare(lines, Path(name)))
    print(f"bare     p50 {baseline * 1e6:7.0f} µs")
    for kind in WIRES:
        with tempfile.TemporaryDirectory() as name, pytest.MonkeyPatch.context() as monkeypatch:
            cpu = time.process_time()
            delays = sorted(asyncio.run(over(kind, lines, Path(name), monkeypatch)))
            cpu = (time.process_time() - cpu) / lines
        middle, late = statistics.median(delays), delays[len(delays) * 99 // 100]
        print(
            f"{kind:8} p50 {middle * 1e6:7.0f} µs, p99 {late * 1e6:7.0f} µs, {cpu * 1e6:6.0f} µs of processor a line "
            f"(both ends), {middle / baseline:6.1f} times the bare loop"
        )


if __name__ == "__main__":
    main()
