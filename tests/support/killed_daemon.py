"""Killing the whole daemon at random moments of a running yard: real terminals, journal, file, broker, recorder."""

import asyncio
import random
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from neckyoke.bridge.events import Animal, Flag, Weighing, read_event
from neckyoke.bridge.herd.held import own_id
from neckyoke.bridge.journal.reading import read_only
from neckyoke.simulators.crush.walk import Stay
from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.support.broker import Broker
from tests.support.daemon import CONFIG, Daemon, until
from tests.support.yard_clock import YARD

SPEED = 8.0
AROUND_S = (3.0, 6.0)
"""Yard seconds before and after a stay in which nothing may be killed if it is to count as undisturbed."""


@dataclass(frozen=True, slots=True)
class DaemonToll:
    """What came of it all."""

    kills: int
    stays: int
    undisturbed: int
    weighings: int
    interrupted: int
    messages: int
    repeated: int


def kill_the_daemon(folder: Path, broker: Broker, kills: int, seed: int, life_s: float) -> DaemonToll:
    """Run a yard until the daemon has been killed so often; compare truth, journal, file and recorder.

    It lives at most `life_s` at a time.
    """
    chance = random.Random(seed)
    recorder = broker.record("neckyoke/larkmoor/#", "-c")
    config = CONFIG.format(**{name: f"serial:{folder / name}?baud=9600" for name in ("indicator", "panel")})
    config += f'[outlets.farm]\nmqtt = "{broker.url}"\n'
    daemon = Daemon(folder, config, SPEED)
    yard = Yard.named("calm", seed, animals=20 + int(kills * life_s))
    try:
        gaps = asyncio.run(_day(folder, daemon, yard, kills, chance, life_s))
        until(lambda: _drained(daemon), "everything is delivered")
        assert daemon.stop() == 0
    finally:
        daemon.close()

    with read_only(folder / "neckyoke.db") as journal:
        events = [read_event(body) for _, body in journal.read(0, 10**7)]
        assert journal.kept("open-stay") == {}
        book = {
            data.animal: data for body in journal.herd.animals() if isinstance(data := read_event(body).data, Animal)
        }
    weighings = {event.data.weighing: event.data for event in events if isinstance(event.data, Weighing)}
    told: dict[str, Animal] = {}
    for event in events:
        if isinstance(event.data, Animal) and event.data.revision > getattr(told.get(event.data.animal), "revision", 0):
            told[event.data.animal] = event.data
    assert book == told, "herd book and journal agree"
    named = {own_id(weighing) for weighing in weighings.values() if Flag.VOIDED not in weighing.flags} - {None}
    assert named <= book.keys(), "whoever a weighing names is in the book, however often the box was killed"
    lived = [stay for stay in yard.truth if stay.off_t + AROUND_S[1] < gaps[-1][1]]
    calm = [stay for stay in lived if not any(_meets(stay.on_t, stay.off_t, gap) for gap in gaps)]
    assert max(Counter(weighing.number for weighing in weighings.values()).values()) == 1, "no number is given twice"
    for stay in calm:
        found = _found(weighings, stay)
        near = [gap for gap in gaps if abs(gap[0] - stay.on_t) < 60]
        assert len(found) == 1, f"{stay} has {found} of {sorted(_spelled(weighings))}; kills {near}"

    filed = [read_event(line) for line in (folder / "events.jsonl").read_bytes().splitlines()]
    assert [event.id for event in filed] == [event.id for event in events], "the file has each event once, in order"
    received = [one for one in recorder.messages() if one.payload.startswith('{"specversion"')]
    counted = Counter(message.event["id"] for message in received)
    assert set(counted) == {event.id for event in events}, "the recorder has the same set"
    return DaemonToll(
        kills=kills,
        stays=len(lived),
        undisturbed=len(calm),
        weighings=len(weighings),
        interrupted=sum(Flag.INTERRUPTED in weighing.flags for weighing in weighings.values()),
        messages=len(received),
        repeated=len(received) - len(counted),
    )


def _found(weighings: dict[str, Weighing], stay: Stay) -> list[Weighing]:
    """Return a stay's weighings: by its tag, or by its weight if it got none."""
    tagged = [one for one in weighings.values() if one.tag is not None and one.tag.id == stay.tag]
    near = [
        one
        for one in weighings.values()
        if one.tag is None and one.weight.kg is not None and abs(one.weight.kg - stay.kg) < 0.015 * stay.kg
    ]
    return tagged or near[:1]


def _spelled(weighings: dict[str, Weighing]) -> list[str]:
    rows = weighings.values()
    return [f"{one.number} {one.tag.id if one.tag else None} {one.weight.kg} {one.flags}" for one in rows]


def _meets(on_t: float, off_t: float, gap: tuple[float, float]) -> bool:
    return on_t - AROUND_S[0] < gap[1] and gap[0] < off_t + AROUND_S[1]


def _drained(daemon: Daemon) -> bool:
    outlets = daemon.ask({"kind": "status"})["status"]["outlets"]
    return all(outlet["backlog"] == 0 for outlet in outlets.values())


def _linked(daemon: Daemon) -> bool:
    """Return whether it listens to both devices: they are opened after the socket is."""
    return all(link["state"] == "up" for link in daemon.ask({"kind": "status"})["status"]["links"].values())


async def _day(
    folder: Path, daemon: Daemon, yard: Yard, kills: int, chance: random.Random, life_s: float
) -> list[tuple[float, float]]:
    """Play the yard and kill; return the gaps in yard seconds, the last one from the end on."""
    with PtyEnd(folder / "indicator") as indicator, PtyEnd(folder / "panel") as panel:
        await asyncio.to_thread(daemon.start)
        await asyncio.to_thread(until, lambda: _linked(daemon), "both links are open")
        began = daemon.clock.look(YARD)
        playing = asyncio.create_task(daemon.clock.play(yard.items(), {"indicator": indicator, "panel": panel}))

        def yard_t() -> float:
            return daemon.clock.look(YARD) - began

        gaps = [(0.0, 0.0)]
        for _ in range(kills):
            await asyncio.sleep(chance.uniform(0.1, life_s))
            assert not playing.done(), "the yard has more animals than that"
            start = yard_t()
            daemon.kill(indicator, panel)
            await asyncio.to_thread(daemon.start)
            await asyncio.to_thread(until, lambda: _linked(daemon), "both links are open")
            gaps.append((start, yard_t()))
        over = yard_t() + 30.0
        while yard_t() < over:  # noqa: ASYNC110 -- it is time that is waited for
            await asyncio.sleep(0.02)
        playing.cancel()
        await asyncio.wait({playing})
        gaps.append((yard_t(), yard_t()))
    return gaps
