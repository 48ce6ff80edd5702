"""Supervision on a clock of its own: waits, back-off, silence, what is told and what is not."""

import asyncio
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.config.model import Poll
from neckyoke.bridge.links import supervise
from neckyoke.bridge.links.phases import TABLE, TOLD, Phase, Sign
from neckyoke.bridge.links.supervise import Supervisor
from neckyoke.bridge.links.wires.link import Link, LinkTrouble, OnBytes, OnLost
from tests.support.running import run
from tests.support.supervised import FakeLink, World, day, settle


def test_a_loss_is_told_once_and_its_end_with_its_length() -> None:
    async def work(world: World, supervisor: Supervisor) -> None:
        await world.go(60)
        world.trouble = LinkTrouble("not there", missing=True)
        world.link.drop()
        await world.go(600)
        world.trouble = None
        await world.go(40)
        assert supervisor.state == "up"

    world = day(work)
    assert world.states == ["up", "lost", "up"]
    assert world.told[1][3] == pytest.approx(60, abs=0.1)
    assert 600 <= (world.told[2][3] or 0) <= 640


def test_waits_grow_from_one_second_to_thirty_with_chance_in_them() -> None:
    async def work(world: World, _: Supervisor) -> None:
        world.trouble = LinkTrouble("not there", missing=True)
        world.link.drop()
        await world.go(300)

    world = World()
    tries: list[float] = []

    class Timed(FakeLink):
        async def _connect(self) -> None:
            tries.append(self.world.t)
            raise LinkTrouble("not there", missing=True)

    async def whole() -> None:
        supervisor = world.supervisor()
        supervisor._make = lambda on_bytes, on_lost: Timed(world, on_bytes, on_lost)
        task = asyncio.ensure_future(supervisor.run())
        await world.go(400)
        task.cancel()
        await asyncio.wait({task})

    run(whole())
    waits = [later - earlier for earlier, later in pairwise(tries)]
    for wait, usual in zip(waits, (1, 2, 4, 8, 16, 30, 30, 30), strict=False):
        assert 0.75 * usual <= wait <= 1.25 * usual + supervise.GLANCE_S
    assert len({round(wait, 3) for wait in waits[5:]}) > 1


def test_a_day_of_a_dead_device_tells_little(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(supervise, "GLANCE_S", 30.0)  # nothing to be seen of it: fewer looks are the same

    async def work(world: World, _: Supervisor) -> None:
        flavours = [LinkTrouble("not there", missing=True), LinkTrouble("it refuses"), OSError("a driver's surprise")]
        world.trouble = flavours[0]
        world.link.drop()
        for hour in range(24):
            world.trouble = flavours[hour % 3]
            await world.go(3600)

    world = day(work)
    assert len(world.told) <= 100
    assert len(world.links) > 1000


def test_a_device_seen_to_come_back_is_tried_at_once() -> None:
    async def work(world: World, supervisor: Supervisor) -> None:
        world.trouble = LinkTrouble("not there", missing=True)
        world.node = None
        world.link.drop()
        await world.go(1000)
        world.trouble, world.node = None, ("ttyUSB1", 7)
        await world.go(supervise.GLANCE_S + supervise.SETTLE_S + 0.01)
        assert supervisor.state == "up"

    day(work)


def test_a_node_that_changed_while_nobody_looked_is_tried_at_once() -> None:
    async def work(world: World, supervisor: Supervisor) -> None:
        world.node = ("ttyUSB0", 1)
        await world.go(2)
        for number in range(50):
            world.trouble = LinkTrouble("not there", missing=True)
            world.link.drop()
            world.trouble, world.node = None, ("ttyUSB0", number + 2)  # before anybody looks
            await world.go(1.0)
            assert supervisor.state == "up", number

    day(work)


def test_silence_is_told_after_its_time_and_ends_with_a_byte() -> None:
    async def work(world: World, supervisor: Supervisor) -> None:
        for _ in range(100):
            world.link.bytes(b"0.0 kg\r\n")
            await world.go(0.1)
        assert world.states == ["up"]
        await world.go(4.8)
        assert world.states == ["up"]
        await world.go(0.2)
        assert world.states == ["up", "silent"]
        await world.go(100)
        world.link.bytes(b"0.0 kg\r\n")
        assert supervisor.health()["state"] == "up"
        assert supervisor.counters.silences == 1

    world = day(work, silent_s=5.0)
    assert world.states == ["up", "silent", "up"]
    assert len(world.links) == 1
    assert world.order[-2:] == ["up", "bytes"]  # the state before the bytes that made it so


def test_a_reader_may_be_quiet_for_ever() -> None:
    async def work(world: World, _: Supervisor) -> None:
        await world.go(86400)

    assert day(work).states == ["up"]


def test_a_silent_link_is_reopened_where_asked_and_silence_is_told_once() -> None:
    async def work(world: World, _: Supervisor) -> None:
        world.link.bytes(b"0.0 kg\r\n")
        await world.go(300)
        assert len(world.links) > 3
        world.link.bytes(b"0.0 kg\r\n")
        await world.go(1)

    world = day(work, silent_s=5.0, reopen_when_silent=True)
    assert world.states == ["up", "silent", "up"]


def test_a_peer_that_accepts_only_to_hang_up_is_not_believed() -> None:
    async def work(world: World, supervisor: Supervisor) -> None:
        world.link.drop()
        for _ in range(900):
            await world.go(1)
            if world.link.released == 0:
                world.link.drop()
        assert world.states == ["up", "lost"]
        while world.link.released:
            await world.go(1)
        await world.go(supervise.STABLE_S + 1)
        assert supervisor.state == "up"

    day(work)


def test_the_first_byte_makes_a_doubted_link_believed() -> None:
    async def work(world: World, _: Supervisor) -> None:
        world.link.drop()
        await world.go(1.5)
        assert world.states == ["up", "lost"]
        world.link.bytes(b"0.0 kg\r\n")
        assert world.states == ["up", "lost", "up"]

    day(work)


def test_a_polled_device_is_asked_at_its_pace() -> None:
    async def work(world: World, _: Supervisor) -> None:
        await world.go(10)
        assert 48 <= len(world.link.written) <= 52
        assert set(world.link.written) == {b"\x05W\r\n"}
        link = world.link
        link.drop()
        await world.go(5)
        assert len(link.written) <= 52
        assert world.link is not link
        assert world.link.written

    day(work, poll=Poll(send=r"\x05W\r\n", every_s=0.2))


def test_writing_goes_to_the_open_link_and_is_refused_without_one() -> None:
    async def work(world: World, supervisor: Supervisor) -> None:
        await supervisor.write(b"Z\r\n")
        assert world.link.written == [b"Z\r\n"]
        world.trouble = LinkTrouble("not there", missing=True)
        world.link.drop()
        await settle()
        with pytest.raises(LinkTrouble, match="indicator is not open"):
            await supervisor.write(b"Z\r\n")

    day(work)


def test_a_wrong_option_is_told_and_does_not_end_the_supervisor() -> None:
    world = World()

    def refuse(_: OnBytes, __: OnLost) -> Link:
        raise LinkTrouble("'fast' is no setting")

    async def whole() -> None:
        supervisor = world.supervisor()
        supervisor._make = refuse
        task = asyncio.ensure_future(supervisor.run())
        await world.go(100)
        task.cancel()
        await asyncio.wait({task})

    run(whole())
    assert world.states == ["lost"]


def test_every_phase_that_is_told_can_be_left_and_every_sign_is_used() -> None:
    assert {phase for phase, _ in TABLE} == set(Phase)
    assert {sign for _, sign in TABLE} == set(Sign)
    assert set(TOLD) == set(Phase) - {Phase.START, Phase.TRIAL}


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["bytes", "drop", "absent", "refused", "surprise", "back", "replug"]), st.floats(0, 40)
        ),
        max_size=25,
    )
)
def test_whatever_happens_states_alternate_and_every_byte_arrives(happenings: list[tuple[str, float]]) -> None:
    sent = 0

    async def work(world: World, _: Supervisor) -> None:
        nonlocal sent
        for number, (what, seconds) in enumerate(happenings):
            match what:
                case "bytes" if world.link._life.name == "UP":
                    world.link.bytes(b"x")
                    sent += 1
                case "drop":
                    world.link.drop()
                case "absent":
                    world.trouble = LinkTrouble("absent", missing=True)
                case "refused":
                    world.trouble = LinkTrouble("refused")
                case "surprise":
                    world.trouble = ValueError("surprise")
                case "back":
                    world.trouble = None
                case "replug":
                    world.node = number
            await world.go(seconds)
            open_links = [link for link in world.links if link._life.name == "UP"]
            assert len(open_links) <= 1

    world = day(work, silent_s=5.0)
    assert all(earlier != later for earlier, later in pairwise(world.states))
    assert all(lasted is None or lasted >= 0 for _, _, _, lasted in world.told)
    assert len(world.got) == sent
