"""Two hundred drops on each kind of wire: nothing leaked, no byte doubled, no later byte lost.

    python tests/bench/drops.py [times]

A drop is: open, receive one line whole, be hung up on, be told once, close.  Whatever is not so ends the run.
"""

import asyncio
import gc
import sys
import tempfile
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.support.wires import WIRES, descriptors, drop, wire


async def measure(kind: str, times: int, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Drop one kind of wire and print what it cost."""
    async with wire(kind, folder, monkeypatch) as one:
        await drop(one, 3)
        gc.collect()
        before = len(descriptors())
        began, cpu = time.monotonic(), time.process_time()
        await drop(one, times)
        took_s, cpu_s = time.monotonic() - began, time.process_time() - cpu
        gc.collect()
        after = len(descriptors())
    print(
        f"{kind:8} {times} drops, descriptors {before} -> {after}, {took_s / times * 1e3:.1f} ms and "
        f"{cpu_s / times * 1e3:.1f} ms of processor each"
    )
    assert after <= before


def main() -> None:
    """Run all five."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for kind in WIRES:
        with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as monkeypatch:
            asyncio.run(measure(kind, times, Path(folder), monkeypatch))


if __name__ == "__main__":
    main()
