"""What happens to bytes on their way, as verbs over a stream of items.

    items = apply(yard.items(), garbage("indicator", share=0.01), hang_up("panel", at=60.0, length_s=30.0))

Each verb takes the link it spoils (None: every link) and a seed, and leaves other links alone.  A stream stays in order
of time, and the bytes of one link stay in their order: a wire is late or wrong, never shuffled.
"""

import heapq
import random
from collections.abc import Callable, Iterable, Iterator
from typing import TypeAlias

from neckyoke.simulators.capture import Item

Fault: TypeAlias = Callable[[Iterable[Item]], Iterator[Item]]


def apply(items: Iterable[Item], *faults: Fault) -> Iterator[Item]:
    """Send items through one fault after the other."""
    stream = iter(items)
    for fault in faults:
        stream = fault(stream)
    return stream


def garbage(link: str | None, share: float = 0.01, longest: int = 40, seed: int = 0) -> Fault:
    """Put random bytes before a share of the items: line noise, a plug pushed in."""

    def spoil(data: bytes, rng: random.Random) -> bytes:
        return rng.randbytes(rng.randint(1, longest)) + data if rng.random() < share else data

    return _each(link, spoil, f"garbage/{seed}")


def flip(link: str | None, share: float = 0.01, seed: int = 0) -> Fault:
    """Turn one bit over in a share of the items."""

    def spoil(data: bytes, rng: random.Random) -> bytes:
        if rng.random() >= share:
            return data
        at = rng.randrange(len(data))
        return data[:at] + bytes([data[at] ^ 1 << rng.randrange(8)]) + data[at + 1 :]

    return _each(link, spoil, f"flip/{seed}")


def cut(link: str | None, share: float = 0.01, seed: int = 0) -> Fault:
    """Lose the end of a share of the items, at least one byte and never all."""

    def spoil(data: bytes, rng: random.Random) -> bytes:
        return data[: rng.randrange(1, len(data))] if len(data) > 1 and rng.random() < share else data

    return _each(link, spoil, f"cut/{seed}")


def wrong_baud(link: str | None, seed: int = 0) -> Fault:
    """Make of every byte what a port at another speed reads: about half as many bytes, of no meaning."""
    seen = (0x00, 0x80, 0xE6, 0xF8, 0x1E, 0x66)
    return _each(link, lambda data, rng: bytes(rng.choice(seen) for _ in data[::2]), f"baud/{seed}")


def duplicate(link: str | None, share: float = 0.05, seed: int = 0) -> Fault:
    """Send a share of the items twice."""
    return _each(link, lambda data, rng: data * 2 if rng.random() < share else data, f"duplicate/{seed}")


def split(link: str | None, most: int = 4, delay_s: float = 0.01, seed: int = 0) -> Fault:
    """Deliver each item in up to `most` pieces, each up to `delay_s` after the one before."""

    def fault(items: Iterable[Item]) -> Iterator[Item]:
        rng = random.Random(f"split/{seed}")
        return _in_order(
            (item[0], piece)
            for item in items
            for piece in (_pieces(item, most, delay_s, rng) if _meant(item, link) and item[2] else (item,))
        )

    return fault


def stall(link: str | None, at: float, length_s: float, *, keep: bool = True) -> Fault:
    """Say nothing from `at` for `length_s`; then deliver all of it at once, or (not `keep`) none of it."""

    def fault(items: Iterable[Item]) -> Iterator[Item]:
        if keep:
            return _in_order((item[0], (at + length_s, *item[1:]) if held(item) else item) for item in items)
        return (item for item in items if not held(item))

    def held(item: Item) -> bool:
        return _meant(item, link) and at <= item[0] < at + length_s

    return fault


def hang_up(link: str, at: float, length_s: float) -> Fault:
    """Unplug the link at `at` and plug it in again `length_s` later: what is sent meanwhile is lost."""

    def fault(items: Iterable[Item]) -> Iterator[Item]:
        states = [(at + length_s, link, b""), (at, link, b"")]
        for item in items:
            while states and item[0] >= states[-1][0]:
                yield states.pop()
            if not (item[1] == link and at <= item[0] < at + length_s):
                yield item
        yield from reversed(states)

    return fault


def mix(source: str, into: str, *, tear: bool = False, seed: int = 0) -> Fault:
    """Put one link's bytes on another link's wire as well; with `tear`, in the middle of what was being sent there."""

    def fault(items: Iterable[Item]) -> Iterator[Item]:
        rng = random.Random(f"mix/{seed}")
        waiting = b""
        for t, name, data in items:
            if name == source and data:
                if tear:
                    waiting += data
                else:
                    yield t, into, data
            if name == into and waiting and data:
                at = rng.randrange(len(data))
                yield t, into, data[:at] + waiting + data[at:]
                waiting = b""
            else:
                yield t, name, data

    return fault


def _meant(item: Item, link: str | None) -> bool:
    return link is None or item[1] == link


def _each(link: str | None, spoil: Callable[[bytes, random.Random], bytes], stream: str) -> Fault:
    """Make a fault that changes the bytes of single items and never their time."""

    def fault(items: Iterable[Item]) -> Iterator[Item]:
        rng = random.Random(stream)
        for item in items:
            t, name, data = item
            yield (t, name, spoil(data, rng)) if data and _meant(item, link) else item

    return fault


def _pieces(item: Item, most: int, delay_s: float, rng: random.Random) -> Iterator[Item]:
    t, link, data = item
    places = sorted(rng.sample(range(1, len(data)), min(len(data) - 1, rng.randint(0, most - 1))))
    for start, end in zip([0, *places], [*places, len(data)], strict=True):
        yield t, link, data[start:end]
        t += rng.uniform(0.0, delay_s)


def _in_order(moved: Iterable[tuple[float, Item]]) -> Iterator[Item]:
    """Put moved items, each given with the time it had, back in order.

    None comes earlier than it did, so all that waits for a time before the next one's old time can be given out.  No
    item overtakes an earlier one of its own link.
    """
    waiting: list[tuple[float, int, Item]] = []
    latest: dict[str, float] = {}
    for count, (was_t, (t, link, data)) in enumerate(moved):
        while waiting and waiting[0][0] < was_t:
            yield heapq.heappop(waiting)[2]
        latest[link] = moment = max(t, latest.get(link, t))
        heapq.heappush(waiting, (moment, count, (moment, link, data)))
    while waiting:
        yield heapq.heappop(waiting)[2]
