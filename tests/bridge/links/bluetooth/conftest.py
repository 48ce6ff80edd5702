"""A radio for a test: the stand-in for BlueZ on a bus of its own."""

from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

import pytest

from neckyoke.simulators.bluetooth.bluez import BlueZ, PrivateBus
from tests.support.radio import OnAir
from tests.support.running import run
from tests.support.wires import radio_bench


@pytest.fixture
def on_air(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> OnAir:
    """Return a runner: a test's coroutine gets the stand-in and its bus."""

    def runner(work: Callable[[BlueZ, PrivateBus], Coroutine[Any, Any, None]]) -> None:
        async def with_radio() -> None:
            async with radio_bench(tmp_path, monkeypatch) as (bluez, bus):
                await work(bluez, bus)

        run(with_radio())

    return runner
