"""What every wire has in common: the life of one opening, from `open` to lost or closed.

A link object is used for one opening and then thrown away; `supervise.py` makes the next one.  Its life is a line:

    new --open--> opening --> up --hang-up--> losing --released--> lost
                     |        |                  |
                     +--------+------close-------+--> closed

The laws (tests/bridge/links/test_link_laws.py holds every kind of wire to them):

- `on_bytes` is called on the event loop, as soon as bytes are read, only between a successful `open` and its end.
- `on_lost` is called once if the far end or the wire ends it, and never after `close` was called or when `open` failed.
- The port is released *before* `on_lost` is called: otherwise the kernel may give a replugged adapter another number.
- `close` may be called at any time, any number of times.  `open`, when it fails or is cancelled, leaves nothing open.
"""

import asyncio
import contextlib
from abc import ABC, abstractmethod
from collections.abc import Callable
from enum import Enum, auto
from typing import TypeAlias

RELEASE_S = 5.0
"""How long releasing a port may take before it is left to finish by itself (some drivers drain for half a minute)."""


class LinkTrouble(OSError):  # noqa: N818  # it is a word of the house: trouble with a link
    """Why a link cannot be opened or was lost, in words for the person who will mend it.

    `missing` tells a device that is not there (unplugged, out of range, switched off) from one that refuses us.
    """

    def __init__(self, text: str, *, missing: bool = False) -> None:
        super().__init__(text)
        self.text = text
        self.missing = missing


OnBytes: TypeAlias = Callable[[bytes], None]
OnLost: TypeAlias = Callable[[LinkTrouble], None]


class _Life(Enum):
    NEW = auto()
    OPENING = auto()
    UP = auto()
    LOSING = auto()
    LOST = auto()
    CLOSED = auto()


class Link(ABC):
    """One opening of one wire.  Kinds of wire fill in `_connect`, `_send` and `_release`."""

    def __init__(self, on_bytes: OnBytes, on_lost: OnLost) -> None:
        self._on_bytes = on_bytes
        self._on_lost = on_lost
        self._life = _Life.NEW
        self._early: list[bytes] = []
        self._early_loss: LinkTrouble | None = None
        self._losing: asyncio.Task[None] | None = None
        self._releasing: asyncio.Task[None] | None = None

    async def open(self) -> None:
        """Open the wire.  Raises LinkTrouble; when it raises, or is cancelled, nothing is left open."""
        if self._life is not _Life.NEW:
            raise LinkTrouble("this link was opened before")
        self._life = _Life.OPENING
        try:
            await self._connect()
        except BaseException:
            self._life = _Life.CLOSED
            await self._let_go()
            raise
        if self._closed:  # closed by another task while it opened
            await self._let_go()
            raise LinkTrouble("closed while it was being opened")
        self._life = _Life.UP
        asyncio.get_running_loop().call_soon(self._catch_up)

    async def write(self, data: bytes) -> None:
        """Send bytes to the device.  Raises LinkTrouble when they cannot be sent."""
        if self._life is not _Life.UP:
            raise LinkTrouble("the link is not open")
        await self._send(data)

    async def close(self) -> None:
        """Release the port.  Afterwards nothing is called any more."""
        opening = self._life is _Life.OPENING
        self._life = _Life.CLOSED
        if self._losing is not None:
            await asyncio.wait({self._losing})
        elif not opening:  # while it opens, `open` itself lets go
            await self._let_go()

    def trace(self) -> object:
        """Return what can be seen of the device without opening it; None when nothing can.

        When it changes to something else, opening is worth another try at once.
        """
        return None

    # for the kinds of wire

    @abstractmethod
    async def _connect(self) -> None:
        """Open; raise LinkTrouble.  Whatever it got hold of is released by `_release`."""

    @abstractmethod
    async def _send(self, data: bytes) -> None:
        """Send bytes; raise LinkTrouble."""

    @abstractmethod
    async def _release(self) -> None:
        """Release whatever is held; called again, do nothing."""

    @property
    def _closed(self) -> bool:
        return self._life is _Life.CLOSED

    def _deliver(self, data: bytes) -> None:
        if self._life is _Life.UP:
            try:
                self._on_bytes(data)
            except Exception as error:  # noqa: BLE001  # a mistake in what takes the bytes must not cost the link
                asyncio.get_running_loop().call_exception_handler(
                    {"message": "what takes a link's bytes failed", "exception": error}
                )
        elif self._life is _Life.OPENING:
            self._early.append(data)

    def _catch_up(self) -> None:
        """Pass on what came before the opener knew that it is open."""
        for data in self._early:
            self._deliver(data)
        self._early.clear()
        if self._early_loss is not None:
            self._lose(self._early_loss)

    def _lose(self, trouble: LinkTrouble) -> None:
        """Note that the far end is gone: release, then report, once."""
        if self._life is _Life.UP:
            self._life = _Life.LOSING
            self._losing = asyncio.get_running_loop().create_task(self._report(trouble))
        elif self._life is _Life.OPENING:
            self._early_loss = self._early_loss or trouble

    async def _report(self, trouble: LinkTrouble) -> None:
        await self._let_go()
        if self._life is _Life.LOSING:
            self._life = _Life.LOST
            self._on_lost(trouble)

    async def _let_go(self) -> None:
        """Release once, whoever asks, and see it through even when the asker is cancelled."""
        if self._releasing is None:
            self._releasing = asyncio.get_running_loop().create_task(self._bounded_release())
        await asyncio.wait({self._releasing})

    async def _bounded_release(self) -> None:
        with contextlib.suppress(Exception):  # a port that cannot even be closed is gone all the same
            async with asyncio.timeout(RELEASE_S):
                await self._release()
