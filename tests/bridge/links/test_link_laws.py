"""The laws of bridge/links/wires/link.py, held by every kind of wire.

The kinds of law (lost once, released before lost, nothing after close, cancelled opening leaks nothing) are common
practice among libraries for serial transports; the far ends are real: ptys, sockets, ser2net, a D-Bus daemon.
"""

import asyncio
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.links.bluetooth import ble as bluetooth
from neckyoke.bridge.links.bluetooth import rfcomm
from neckyoke.bridge.links.wires.link import LinkTrouble
from tests.support.running import run, until
from tests.support.wires import WIRES, Listener, Wire, descriptors, drop, opened, send, wire

DROPS = 12
"""Drops in this suite; tests/bench/drops.py makes 200."""

pytestmark = pytest.mark.usefixtures("no_leaks")


@pytest.fixture(params=WIRES)
def on_wire(request: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[Any], None]:
    """Return a runner: each test's coroutine gets the wire."""

    def runner(work: Any) -> None:
        async def with_wire() -> None:
            async with wire(request.param, tmp_path, monkeypatch) as one:
                await work(one)

        run(with_wire())

    return runner


def test_bytes_arrive_and_the_loss_is_told_once(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        listener = await opened(one.url)
        one.write(b"ST,GS,+00412.5kg,999 000000112233\r\nST,GS")
        await listener.has(b"ST,GS,+00412.5kg,999 000000112233\r\nST,GS")
        one.unplug()
        await listener.is_lost()
        await asyncio.sleep(0.05)
        await listener.link.close()
        assert len(listener.lost) == 1
        assert str(listener.lost[0])

    on_wire(work)


def test_every_byte_arrives_unchanged_and_in_order(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        data = bytes(range(256)) * 4 + random.Random(1).randbytes(8000) + b"\xff" * 600
        listener = await opened(one.url)
        await send(one, listener, data)
        assert bytes(listener.got) == data
        await listener.link.close()

    on_wire(work)


def test_what_is_written_arrives(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        listener = await opened(one.url)
        sent = b"Z\r\n" + bytes(range(256))
        await listener.link.write(sent)
        seen = bytearray()

        def all_of_it() -> bool:
            seen.extend(one.read())
            return len(seen) >= len(sent)

        await until(all_of_it, "what was written")
        assert bytes(seen) == sent
        await listener.link.close()
        with pytest.raises(LinkTrouble):
            await listener.link.write(b"Z\r\n")

    on_wire(work)


def test_the_port_is_released_before_the_loss_is_told(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        await (await opened(one.url)).link.close()  # what a library keeps for good is there now
        before = descriptors()
        listener = await opened(one.url)
        one.unplug()
        await listener.is_lost()
        kept = {fd: to for fd, to in listener.fds_at_loss[0].items() if before.get(fd) != to}
        assert {to for to in kept.values() if not to.startswith("/proc")} == set()
        await listener.link.close()

    on_wire(work)


def test_close_is_idempotent_and_nothing_is_told_after_it(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        listener = await opened(one.url)
        await asyncio.gather(listener.link.close(), listener.link.close())
        await listener.link.close()
        one.unplug()
        await asyncio.sleep(0.05)
        assert listener.lost == []
        assert bytes(listener.got) == b""
        with pytest.raises(LinkTrouble, match="opened before"):
            await listener.link.open()

    on_wire(work)


def test_close_in_the_midst_of_a_loss_silences_it(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        listener = await opened(one.url)
        one.unplug()
        await asyncio.sleep(0)
        told = len(listener.lost)
        await listener.link.close()
        await asyncio.sleep(0.05)
        assert len(listener.lost) == told

    on_wire(work)


def test_a_cancelled_opening_leaves_nothing_open(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        await (await opened(one.url)).link.close()
        before = descriptors()
        for delay_s in (0.0, 0.0005, 0.002, 0.005, 0.01, 0.03):
            listener = Listener(one.url)
            opening = asyncio.ensure_future(listener.link.open())
            await asyncio.sleep(delay_s)
            opening.cancel()
            await asyncio.wait({opening})
            if not opening.cancelled() and opening.exception() is None:
                await listener.link.close()  # it was quicker
            assert listener.lost == []
        one.hang_up()  # what the far end holds of those openings is let go too

        def nothing_new() -> bool:
            new = {fd for fd, to in descriptors().items() if before.get(fd) != to and not to.startswith("/proc")}
            return len(descriptors()) <= len(before) or not new

        await until(nothing_new, "no descriptor is left of the cancelled openings")
        listener = await opened(one.url)
        one.write(b"later\r\n")
        await listener.has(b"later\r\n")
        await listener.link.close()

    on_wire(work)


def test_a_missing_device_is_said_to_be_missing(
    on_wire: Callable[[Any], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bluetooth, "FIND_S", 0.2)

    async def work(one: Wire) -> None:
        one.unplug()
        listener = Listener(one.url)
        with pytest.raises(LinkTrouble) as trouble:
            await listener.link.open()
        assert trouble.value.missing
        assert listener.lost == []

    on_wire(work)


def test_a_mistake_in_what_takes_the_bytes_costs_no_link(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        complaints: list[str] = []
        listener = await opened(one.url)
        asyncio.get_running_loop().set_exception_handler(lambda _, context: complaints.append(context["message"]))
        take = listener.link._on_bytes

        def fail(_: bytes) -> None:
            raise ZeroDivisionError

        listener.link._on_bytes = fail
        one.write(b"mistaken\r\n")
        await until(lambda: bool(complaints), "the complaint")
        listener.link._on_bytes = take
        one.write(b"later\r\n")
        await until(lambda: b"later\r\n" in bytes(listener.got), "what came later")
        assert listener.lost == []
        assert set(complaints) == {"what takes a link's bytes failed"}
        await listener.link.close()

    on_wire(work)


def test_a_lost_link_hears_nothing_more_even_if_nobody_closed_it(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        first = await opened(one.url)
        one.write(b"first\r\n")
        await first.has(b"first\r\n")
        one.hang_up()
        await first.is_lost()
        second = await opened(one.url)
        one.write(b"second\r\n")
        await second.has(b"second\r\n")
        assert bytes(first.got) == b"first\r\n"
        await second.link.close()
        await first.link.close()

    on_wire(work)


def test_drops_lose_no_later_byte_and_double_none(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        await drop(one, 2)
        before = len(descriptors())
        await drop(one, DROPS)
        assert len(descriptors()) <= before

    on_wire(work)


def test_a_lost_link_leaves_the_loop_at_rest(on_wire: Callable[[Any], None]) -> None:
    async def work(one: Wire) -> None:
        listener = await opened(one.url)
        one.unplug()
        await listener.is_lost()
        await asyncio.sleep(0.1)
        turns = 0
        selector = asyncio.get_running_loop()._selector  # type: ignore[attr-defined]
        select = selector.select

        def counted(timeout: float | None = None) -> Any:
            nonlocal turns
            turns += 1
            return select(timeout)

        selector.select = counted
        try:
            await asyncio.sleep(0.2)
        finally:
            selector.select = select
        assert turns < 50  # a descriptor left in the loop makes tens of thousands
        await listener.link.close()

    on_wire(work)


def test_rfcomm_waits_for_no_answer_for_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rfcomm, "CONNECT_S", 0.2)

    async def work() -> None:
        async with wire("rfcomm", tmp_path, monkeypatch) as one:
            one.end.hang = True  # type: ignore[attr-defined]
            with pytest.raises(LinkTrouble, match="does not answer"):
                await Listener(one.url).link.open()

    run(work())
