"""Delivery on a real mosquitto: the full counts.

    python tests/bench/delivery.py [kills] [daemon] [stays-killed] [backlog] [latency] [stays] [quiet]   all by default

- kills: 100 SIGKILLs of a writing process; journal, file and recorder must agree (tests/support/killing.py)
- daemon: 100 SIGKILLs of the whole daemon while a yard runs on real terminals (tests/support/killed_daemon.py)
- stays-killed: 1,000 kills within stays, with tags and without, its clock known or not, back at once or after seconds,
  twice in a stay: for each stay, how many weighings it has; then in quicker yards (tests/support/killed_stays.py)
- backlog: 100,000 events drained in order; events a second beside a bare loop of the same library, memory over idle
- latency: from handing an event in to the subscriber, synced on the way; beside a bare write and sync of this disk
- stays: from the bytes of the reading that ends a stay to the subscriber, through the whole daemon on real terminals
- quiet: 24 simulated hours of the daemon without a device and without a broker
"""

import asyncio
import gc
import logging
import os
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import aiomqtt
import structlog

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.events import Event, Weighing, read_event
from neckyoke.bridge.journal.journal import Journal
from neckyoke.simulators.wires.ends import PtyEnd, play
from neckyoke.simulators.yard import Yard
from tests.support.broker import Broker
from tests.support.events import weighed
from tests.support.in_process import in_process, lines_of_a_quiet_day
from tests.support.killed_daemon import kill_the_daemon
from tests.support.killed_stays import kill_within_stays
from tests.support.killing import kill_again_and_again
from tests.support.outlet import yard
from tests.support.running import until
from tests.support.stay_toll import StayToll

KILLS = 100
KILLS_WITHIN = 1000
QUIET = 20
BACKLOG = 100_000
STAYS = 500
PACE = 10.0
"""How much faster than a yard the stays come: a stay every second, so that each is over before the next ends."""


def percentile(values: list[float], percent: float) -> float:
    """Return a percentile of some values."""
    return sorted(values)[min(len(values) - 1, int(len(values) * percent / 100))]


def kills(folder: Path) -> None:
    """Kill a hundred times."""
    (folder / "broker").mkdir()
    broker = Broker(folder / "broker").start()
    try:
        toll = kill_again_and_again(folder, broker, KILLS, seed=11)
    finally:
        broker.close()
    print(
        f"kills: {KILLS}; {toll.stays} stays, each with one weighing, {toll.interrupted} of them interrupted; "
        f"{toll.messages} messages received, {toll.repeated} of them repeats"
    )


def daemon(folder: Path) -> None:
    """Kill the whole daemon a hundred times."""
    (folder / "broker").mkdir()
    broker = Broker(folder / "broker").start()
    try:
        toll = kill_the_daemon(folder, broker, KILLS, seed=12, life_s=5.0)
    finally:
        broker.close()
    print(
        f"daemon: {toll.kills} kills in {toll.stays} stays; {toll.undisturbed} met no kill and have one weighing each; "
        f"{toll.weighings} weighings in all, {toll.interrupted} interrupted; journal, file and recorder agree; "
        f"{toll.messages} messages received, {toll.repeated} of them repeats"
    )


def stays_killed(_folder: Path) -> None:
    """Kill a thousand times within stays; none that was heard for a second may be without a weighing.

    Of two neither may be unmarked, and in quicker yards none be without one, but for one in 200.
    """
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    toll = kill_within_stays(KILLS_WITHIN, seed=0)
    print(f"stays-killed: {toll.kills} kills; stays with exactly one weighing:")
    for kind, count in sorted(toll.stays.items()):
        print(f"    {toll.right[kind]:4d} of {count:4d}, {toll.none[kind]} with none: {kind}")
    print(f"    herd book and journal, after each kill and at each end: {len(toll.disagree)} disagree")
    assert not toll.disagree, toll.disagree[:3]
    assert not sum(count for kind, count in toll.none.items() if "1 s or more" in kind or kind == "no kill")
    _told(toll, "calm")
    for scenario in ("calm", "larkmoor", "no-gap", "sheep"):  # a mob of one weight, quick turns, and quicker ones
        for quiet in (0, QUIET) if scenario != "calm" else (QUIET,):
            toll = kill_within_stays(KILLS_WITHIN // 4, seed=0, scenario=scenario, quiet=quiet)
            _told(toll, f"{scenario}, {quiet} animals seen before")


def _told(toll: StayToll, scenario: str) -> None:
    heard = [kind for kind in toll.stays if "1 s or more" in kind]
    kinds = (toll.stays, toll.right, toll.none, toll.unmarked)
    every, right, none, unmarked = (sum(of[kind] for kind in heard) for of in kinds)
    more = every - right - none
    print(f"    {scenario}, {toll.kills} kills: of {every} heard for 1 s or more {right} have exactly one,", end=" ")
    print(f"{none} none, {more} two; of these {more - unmarked} are marked as perhaps the same")
    assert max(none, unmarked) <= max(1, every // 200), toll.wrong


def resident_mib() -> float:
    """Return the memory that this process holds now."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


async def _bare_rate(port: int, messages: int) -> float:
    """Publish as fast as the library can with as many under way: the baseline."""
    payload = weighed(1).to_json()
    async with aiomqtt.Client("127.0.0.1", port, protocol=aiomqtt.ProtocolVersion.V5) as client:
        client.pending_calls_threshold = 10**6
        begin = time.perf_counter()
        window = asyncio.Semaphore(20)

        async def one() -> None:
            async with window:
                await client.publish("bare/weighing", payload, qos=1)

        for _ in range(messages // 1000):
            await asyncio.gather(*(one() for _ in range(1000)))
        return messages / (time.perf_counter() - begin)


async def _fill(folder: Path) -> None:
    journal = await Journal.open(folder / "journal.db", outlets=["farm"])
    for first in range(0, BACKLOG, 500):
        await journal.append([weighed(number) for number in range(first, first + 500)])
    await journal.close()


async def _drain(folder: Path, broker: Broker) -> None:
    bare = await _bare_rate(broker.port, 10_000)
    broker.stop()
    async with yard(folder, broker.url) as one:
        await until(lambda: bool(one.said), "the broker is away")
        gc.collect()
        idle = resident_mib()
        most = idle
        one.outlet._backoff._next_s = 0.1
        await asyncio.to_thread(broker.start)
        recorder = broker.record("neckyoke/larkmoor/crush/weighing")
        await until(lambda: one.health().connected, "connected", 90)
        begin = time.perf_counter()
        left = one.health().backlog
        while one.health().backlog:
            await asyncio.sleep(0.05)
            most = max(most, resident_mib())
        rate = left / (time.perf_counter() - begin)
    numbers = [message.event["data"]["number"] for message in recorder.wait_for(BACKLOG, "weighing", 120)]
    assert numbers == list(range(BACKLOG)), "all, in order, none twice"
    print(
        f"backlog: {BACKLOG} events in order at {rate:.0f}/s ({rate / bare:.2f} of the bare library's {bare:.0f}/s); "
        f"memory {most - idle:+.1f} MiB over idle ({idle:.0f} MiB)"
    )


def backlog(folder: Path) -> None:
    """Drain a long backlog."""
    (folder / "broker").mkdir()
    broker = Broker(folder / "broker", ["allow_anonymous true", "max_queued_messages 200000", "set_tcp_nodelay true"])
    broker.start()
    try:
        asyncio.run(_fill(folder))
        asyncio.run(_drain(folder, broker))
    finally:
        broker.close()


def _bare_sync_ms(folder: Path) -> list[float]:
    """Write and sync as much as an event takes: the baseline."""
    line = weighed(1).to_json().encode()
    taken = []
    with (folder / "bare").open("ab", buffering=0) as file:
        for _ in range(STAYS):
            begin = time.perf_counter()
            file.write(line)
            os.fdatasync(file)
            taken.append((time.perf_counter() - begin) * 1000)
    return taken


async def _latencies_ms(folder: Path, broker: Broker) -> list[float]:
    taken = []
    async with (
        yard(folder, broker.url) as one,
        aiomqtt.Client("127.0.0.1", broker.port, protocol=aiomqtt.ProtocolVersion.V5) as subscriber,
    ):
        await subscriber.subscribe("neckyoke/larkmoor/crush/weighing", qos=1)
        messages = aiter(subscriber.messages)
        for number in range(STAYS):
            begin = time.perf_counter()
            one.journal.submit([weighed(number)])
            await anext(messages)
            taken.append((time.perf_counter() - begin) * 1000)
            await asyncio.sleep(0.005)
    return taken


def latency(folder: Path) -> None:
    """Measure the way from the journal's door to a subscriber."""
    (folder / "broker").mkdir()
    broker = Broker(folder / "broker", ["allow_anonymous true", "set_tcp_nodelay true"]).start()
    try:
        bare = _bare_sync_ms(folder)
        taken = asyncio.run(_latencies_ms(folder, broker))
    finally:
        broker.close()
    print(
        f"latency: {STAYS} events, p50 {statistics.median(taken):.1f} ms, p99 {percentile(taken, 99):.1f} ms, "
        f"most {max(taken):.1f} ms; a bare write and sync here: p50 {statistics.median(bare):.1f} ms, "
        f"p99 {percentile(bare, 99):.1f} ms"
    )


async def _stays_ms(folder: Path, broker: Broker) -> list[float]:
    """Weigh a mob at many times its pace: whatever else happens then, happens as much more often."""
    began_at: dict[str, float] = {}
    taken: list[float] = []
    yard_of_stays = Yard.named("calm", 1, STAYS)
    start, wall = time.monotonic(), time.time()

    def elapsed() -> float:
        return (time.monotonic() - start) * PACE

    clock = WallClock(elapsed, lambda: wall + elapsed(), lambda: True)
    with PtyEnd(folder / "indicator") as indicator, PtyEnd(folder / "panel") as panel:
        async with (
            in_process(folder, broker.url, clock) as service,
            aiomqtt.Client("127.0.0.1", broker.port, protocol=aiomqtt.ProtocolVersion.V5) as subscriber,
        ):
            took, publish = service.pipeline.took, service.pipeline.publish
            now = 0.0

            def stamped_took(link: str, data: bytes) -> None:
                nonlocal now
                now = time.perf_counter()
                took(link, data)

            def stamped_publish(events: list[Event], asked: Mapping[str, str] = MappingProxyType({})) -> None:
                began_at.update((event.id, now) for event in events if isinstance(event.data, Weighing))
                publish(events, asked)

            for supervisor in service.supervisors.values():
                supervisor._on_bytes = stamped_took
            service.pipeline.publish = stamped_publish  # type: ignore[method-assign]
            await subscriber.subscribe("neckyoke/larkmoor/crush/weighing", qos=1)

            async def listen() -> None:
                async for message in subscriber.messages:
                    event = read_event(message.payload)
                    if isinstance(event.data, Weighing) and event.data.revision == 1:
                        taken.append((time.perf_counter() - began_at[event.id]) * 1000)

            listening = asyncio.create_task(listen())
            await play(yard_of_stays.items(), {"indicator": indicator, "panel": panel}, PACE)
            await until(lambda: len(taken) >= STAYS - 1, "all are weighed", 60)
            listening.cancel()
    return taken


def stays(folder: Path) -> None:
    """Measure the way from the last byte to a subscriber."""
    (folder / "broker").mkdir()
    broker = Broker(folder / "broker", ["allow_anonymous true", "set_tcp_nodelay true"]).start()
    try:
        taken = asyncio.run(_stays_ms(folder, broker))
    finally:
        broker.close()
    print(
        f"stays: {len(taken)} at {PACE:.0f} times their pace, p50 {statistics.median(taken):.1f} ms, "
        f"p99 {percentile(taken, 99):.1f} ms, most {max(taken):.1f} ms"
    )


def quiet(folder: Path) -> None:
    """Let a day pass on which nothing is there."""
    begin = time.perf_counter()
    lines = lines_of_a_quiet_day(folder, 24)
    print(f"quiet: {len(lines)} lines logged in 24 simulated hours ({time.perf_counter() - begin:.0f} s)")
    assert len(lines) <= 100


def main() -> None:
    """Run what is named."""
    parts = {
        "kills": kills,
        "daemon": daemon,
        "stays-killed": stays_killed,
        "backlog": backlog,
        "latency": latency,
        "stays": stays,
        "quiet": quiet,
    }
    for name in sys.argv[1:] or parts:
        with tempfile.TemporaryDirectory() as folder:
            parts[name](Path(folder))
    print(f"most memory held: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
