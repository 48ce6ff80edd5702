"""Listening to a device that nobody has described: find the port's speed, show what comes, say what it is.

A serial port opened at the wrong speed receives bytes all the same, only garbled ones.  So each usual speed is listened
to for as long as it takes to have bytes to judge, until one reads well; silence says nothing of the speed, and there
the first speed is stayed with.  Parity needs no trying: seven bits and parity seen through eight bits show themselves,
and the port is opened again accordingly.  What the bytes mean is `protocols.recognise`'s to say.
"""

import asyncio
import contextlib
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TypeAlias
from urllib.parse import urlencode

from neckyoke.bridge.config.address import Address, parse_address
from neckyoke.bridge.config.escapes import spelled_bytes
from neckyoke.bridge.config.model import LinkTable, Poll
from neckyoke.bridge.links.make import make_link
from neckyoke.bridge.links.wires.link import Link, LinkTrouble
from neckyoke.protocols.framing.framer import make_framer
from neckyoke.protocols.readings import Outcome, Reject, TagRead
from neckyoke.protocols.recognise import SAMPLE, Finding, Kind, Sure, best_setting, find_parity, recognise, score
from neckyoke.protocols.scale import ble as gatt
from neckyoke.protocols.scale.freeform import FreeForm
from neckyoke.protocols.tags.lines import decode_tag_line

SPEEDS = (9600, 4800, 19200, 2400, 115200, 38400, 57600, 1200)
"""In the order in which indicators and readers use them (common practice, no source)."""
DWELL_S = 2.0
"""How long a speed is listened to after its first byte."""
PLENTY = 400
"""Bytes that are enough to judge a speed by."""
GOOD = 0.75
"""A score that ends the search; the right speed scores nearly 1, a wrong one under 0.5."""


@dataclass(frozen=True, slots=True)
class Tried:
    """A speed was listened to: how many bytes came, and how they score from 0 to 1."""

    speed: str
    heard: int
    score: float


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes came, `t` seconds after listening began."""

    t: float
    data: bytes


@dataclass(frozen=True, slots=True)
class Frame:
    """A frame was complete, and this is what it says."""

    t: float
    frame: bytes
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class Ended:
    """The link was lost while it was listened to."""

    text: str


Step: TypeAlias = Tried | Chunk | Frame | Ended
Tell: TypeAlias = Callable[[Step], None]


@dataclass(frozen=True, slots=True)
class Listened:
    """The result: the URL that works, and what speaks there."""

    url: str
    finding: Finding


async def listen(url: str, seconds: float, tell: Tell, poll: Poll | None = None) -> Listened:
    """Listen for so long once the speed is known, telling what comes; then say what it is.

    With `poll` the device is asked again and again.  Raises ValueError when the URL is none, LinkTrouble when the link
    cannot be opened.
    """
    address = parse_address(url)
    if address.scheme in {"serial", "rfc2217"} and "baud" not in address.options:
        address = await find_speed(address, seconds, tell, poll)
    sample = await _hear(address, seconds, _Teller(tell), lambda _: False, poll=poll)
    return judge(spell_address(address), sample)


def judge(url: str, sample: bytes) -> Listened:
    """Return what a sample is."""
    return Listened(url, _weight_service(sample) if sample.startswith(gatt.LINE) else recognise(sample))


async def find_speed(address: Address, seconds: float, tell: Tell, poll: Poll | None = None) -> Address:
    """Find a serial port's speed and parity; the first speed when none reads well.

    Waits at most `seconds` for a first byte, and then for each speed as long again at most.
    """
    samples: dict[str, bytes] = {}
    for speed in SPEEDS:
        there = with_options(address, baud=str(speed))
        sample = await _hear(
            there, seconds, lambda _: None, lambda sample: len(sample) >= PLENTY, dwell_s=DWELL_S, poll=poll
        )
        samples[str(speed)] = sample
        parity = find_parity(sample)
        points = recognise(sample).fit if parity else score(sample)
        tell(Tried(str(speed), len(sample), points))
        if parity in {"even", "odd", "mark"} and points >= GOOD:
            return with_options(there, bits="7", parity=parity)
        if points >= GOOD or not sample:
            return there
    best = best_setting(samples).setting
    return with_options(address, baud=best or str(SPEEDS[0]))


def with_options(address: Address, **options: str) -> Address:
    """Return the address with some options set."""
    return replace(address, options={**address.options, **options})


def spell_address(address: Address) -> str:
    """Spell an address as a URL."""
    query = f"?{urlencode(address.options, safe=':')}" if address.options else ""
    if address.port:
        host = f"[{address.target}]" if ":" in address.target else address.target
        return f"{address.scheme}://{host}:{address.port}{query}"
    return f"{address.scheme}:{address.target}{query}"


async def _hear(
    address: Address,
    seconds: float,
    on_bytes: Callable[[bytes], None],
    enough: Callable[[bytes], bool],
    dwell_s: float | None = None,
    poll: Poll | None = None,
) -> bytes:
    """Listen on one opening; end after `seconds`, when it is enough, or `dwell_s` after the first byte."""
    sample = bytearray()
    first = asyncio.Event()
    done = asyncio.Event()
    losses: list[LinkTrouble] = []

    def take(data: bytes) -> None:
        first.set()
        sample.extend(data[: max(0, SAMPLE - len(sample))])
        on_bytes(data)
        if enough(bytes(sample)):
            done.set()

    def lost(trouble: LinkTrouble) -> None:
        losses.append(trouble)
        first.set()
        done.set()

    link = make_link(address, LinkTable(url=spell_address(address)), take, lost)
    await link.open()
    asking = asyncio.ensure_future(_ask(link, poll)) if poll else None
    try:
        await _within(first if dwell_s is not None else done, seconds)
        if dwell_s is not None and first.is_set():
            await _within(done, dwell_s)
    finally:
        if asking:
            asking.cancel()
        await link.close()
    if losses and isinstance(on_bytes, _Teller):
        on_bytes.tell(Ended(losses[0].text))
    return bytes(sample)


async def _ask(link: Link, poll: Poll) -> None:
    """Ask the device again and again; what it does not take it will be asked again."""
    while True:
        with contextlib.suppress(LinkTrouble):
            await link.write(spelled_bytes(poll.send))
        await asyncio.sleep(poll.every_s)


async def _within(event: asyncio.Event, seconds: float) -> None:
    try:
        async with asyncio.timeout(seconds):
            await event.wait()
    except TimeoutError:
        return


class _Teller:
    """Passes on bytes as they come, and frames as they are complete, read by whatever reads them."""

    def __init__(self, tell: Tell) -> None:
        self.tell = tell
        self._began = time.monotonic()
        self._framer = make_framer("auto")
        self._free = FreeForm()

    def __call__(self, data: bytes) -> None:
        t = time.monotonic() - self._began
        self.tell(Chunk(t, data))
        for frame, outcome in self._read(data):
            self.tell(Frame(t, frame, outcome))

    def _read(self, data: bytes) -> Iterator[tuple[bytes, Outcome]]:
        for piece in self._framer.feed(data):
            if isinstance(piece, Reject):
                yield piece.frame, piece
            elif isinstance(piece, bytes):
                yield piece, self._decode(bytes(piece))

    def _decode(self, frame: bytes) -> Outcome:
        if frame.startswith(gatt.LINE):
            return gatt.decode_weight_line(frame)
        tag = decode_tag_line(frame, "value")
        return tag if isinstance(tag, TagRead) else self._free.decode(frame, None)


def _weight_service(sample: bytes) -> Finding:
    """Describe a weight scale service, which needs no guessing."""
    frames = sample.split()
    return Finding(
        Kind.SCALE,
        Sure.SURE,
        ("It is the Bluetooth weight scale service.",),
        (f"It ends at {gatt.FULL_SCALE_KG} kg: grown cattle do not fit.",),
        layout=gatt.LAYOUT,
        example=frames[0],
        frames=len(frames),
        fit=1.0,
    )
