"""A supervisor in a world of its own: a clock that goes when told, and a link whose troubles are set from outside."""

import asyncio
import heapq
import random
from collections.abc import Callable, Coroutine
from typing import Any

from neckyoke.bridge.links.supervise import Supervisor
from neckyoke.bridge.links.wires.link import Link, LinkTrouble, OnBytes, OnLost
from tests.support.running import run

TURNS = 30
"""Turns of the loop that let everything that is due happen."""


class World:
    """A clock that goes when told, and a device whose troubles are set from outside."""

    def __init__(self) -> None:
        self.t = 0.0
        self._sleepers: list[tuple[float, int, asyncio.Future[None]]] = []
        self._count = 0
        self.trouble: Exception | None = None
        self.node: object = None
        self.links: list[FakeLink] = []
        self.told: list[tuple[float, str, str, float | None]] = []
        self.got: list[bytes] = []
        self.order: list[str] = []

    def now(self) -> float:
        return self.t

    async def sleep(self, seconds: float) -> None:
        future: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._count += 1
        heapq.heappush(self._sleepers, (self.t + seconds, self._count, future))
        await future

    async def go(self, seconds: float) -> None:
        end = self.t + seconds
        await settle()
        while self._sleepers and self._sleepers[0][0] <= end:
            self.t, _, future = heapq.heappop(self._sleepers)
            if not future.done():
                future.set_result(None)
                await settle()
        self.t = end

    def supervisor(self, **settings: Any) -> Supervisor:
        return Supervisor(
            "indicator",
            lambda on_bytes, on_lost: FakeLink(self, on_bytes, on_lost),
            on_bytes=self._take,
            on_state=lambda _, *told: self._tell(*told),
            now=self.now,
            sleep=self.sleep,
            rng=random.Random(1),
            **settings,
        )

    def _take(self, _: str, data: bytes) -> None:
        self.got.append(data)
        self.order.append("bytes")

    def _tell(self, state: str, text: str, lasted_s: float | None) -> None:
        self.told.append((self.t, state, text, lasted_s))
        self.order.append(state)

    @property
    def states(self) -> list[str]:
        return [state for _, state, _, _ in self.told]

    @property
    def link(self) -> "FakeLink":
        return self.links[-1]


class FakeLink(Link):
    def __init__(self, world: World, on_bytes: OnBytes, on_lost: OnLost) -> None:
        super().__init__(on_bytes, on_lost)
        self.world = world
        self.written: list[bytes] = []
        self.released = 0
        world.links.append(self)

    def trace(self) -> object:
        return self.world.node

    async def _connect(self) -> None:
        if self.world.trouble is not None:
            raise self.world.trouble

    async def _send(self, data: bytes) -> None:
        self.written.append(data)

    async def _release(self) -> None:
        self.released += 1

    def bytes(self, data: bytes) -> None:
        self._deliver(data)

    def drop(self) -> None:
        self._lose(LinkTrouble("unplugged", missing=True))


async def settle() -> None:
    for _ in range(TURNS):
        await asyncio.sleep(0)


def day(work: Callable[[World, Supervisor], Coroutine[Any, Any, None]], **settings: Any) -> World:
    """Run a supervisor in a world; `work` moves the world."""
    world = World()

    async def whole() -> None:
        supervisor = world.supervisor(**settings)
        task = asyncio.ensure_future(supervisor.run())
        await settle()
        await work(world, supervisor)
        assert not task.done()
        task.cancel()
        await asyncio.wait({task})
        assert task.cancelled()
        assert all(link.released == 1 for link in world.links)

    run(whole())
    return world
