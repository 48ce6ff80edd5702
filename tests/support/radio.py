"""Two devices on the air, what a test of Bluetooth needs to reach them, and a link that does not open."""

from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.simulators.bluetooth.bluez import BlueZ, PrivateBus
from tests.support.wires import Listener

SCALE, PANEL = "AA:BB:CC:DD:EE:01", "AA:BB:CC:DD:EE:02"
OnAir = Callable[[Callable[[BlueZ, PrivateBus], Coroutine[Any, Any, None]]], None]


async def fails(url: str, **table: Any) -> LinkTrouble:
    listener = Listener(url, **table)
    with pytest.raises(LinkTrouble) as trouble:
        await listener.link.open()
    assert listener.lost == []
    return trouble.value
