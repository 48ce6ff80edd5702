"""Which tags are near which reader when, given who stands on the platform when: three places for a reader.

* `platform`: a panel beside the crush hears the animal that stands there; now and then the next one waiting behind, or
  the last one lingering in front.
* `ahead`: a panel in the race hears each animal as it passes, some places before the platform.  The order there is not
  always the order on the platform: one stops in front of the panel, one backs out and comes again, one jumps the queue.
* `hand`: a person holds a reader to each animal and presses, mostly while it stands there, else too early or too late,
  and sometimes to the wrong one.

A reader at the platform is best heard in front of it.  Tags of 134.2 kHz are fed by the near field of the antenna: on
the axis of a loop of radius R, at a distance x, it is H = I N R^2 / (2 (R^2 + x^2)^(3/2)), so that it falls with the
third power of the distance once that is beyond R (Biot-Savart; K. Finkenzeller, RFID Handbook, 4.1.1.1, from memory).
With a loop of 0.3 m and a head 0.4 m before it, one that reaches over at 0.8 m has a fifth of the field, one that waits
a body's length behind, at 2 m, a seventieth.  What is the tag's own, its coil, its make and how it hangs in the ear, is
the same at both places.  So one tag is heard worse as a neighbour than in front of the reader (`near_share`), however
well or badly it is heard at all; drawn apart (`near_chance`), a waiting animal may be heard better than the one that
stands there, as by an antenna that points the wrong way.

Every range is an assumption, meant to be varied.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from neckyoke.simulators.crush.body import Range
from neckyoke.simulators.crush.reader import Nearness, Reader


@dataclass(frozen=True, slots=True)
class Hearing:
    """One reader of a yard, and how often what goes wrong around it.

    Shares are of stays.  `missed`: its own tag is not read at all.  `next_read`, `last_read`: a neighbour's tag is read
    too, with a chance of `near_chance` a round; or, with `near_share`, with that share of the chance that the very same
    tag has in front of the reader.  `strays_per_hour`: a tag in the adjoining pen comes into range for
    `stray_s`.  `outages`: (after, length) seconds without the link.  For a reader ahead, `places` animals fit between
    it and the platform, and `stops`, `backs`, `jumps` are the queue's faults; with `lag_s` it stands so close that each
    animal passes it so long before its first foot is on.  For one in the hand, `early`, `late` and `wrong` are the
    person's.
    """

    link: str = "panel"
    position: Literal["platform", "ahead", "hand"] = "platform"
    reader: Reader = field(default_factory=Reader)
    spelling: str = "digits"
    chance: Range = (0.25, 0.9)
    missed: float = 0.0
    next_read: float = 0.0
    last_read: float = 0.0
    near_chance: Range = (0.05, 0.5)
    near_share: Range | None = None
    strays_per_hour: float = 0.0
    stray_s: Range = (60.0, 400.0)
    outages: tuple[tuple[float, float], ...] = ()
    places: int = 2
    stops: float = 0.0
    backs: float = 0.0
    jumps: float = 0.0
    lag_s: Range | None = None
    early: float = 0.0
    late: float = 0.0
    wrong: float = 0.0


class Passing(NamedTuple):
    """One stay, as far as a reader cares: the tag is None when there is none that works.

    `again`: the animal backed off the platform and came on again: it passes nothing in the race, nobody presses twice.
    """

    tag: str | None
    on_t: float
    all_on_t: float
    leave_t: float
    off_t: float
    again: bool = False


Window = tuple[float, float]


class Heard(NamedTuple):
    """All reads in order of time, and for each stay when its own animal was there to be read (None: it never was)."""

    reads: list[tuple[float, str]]
    own: list[Window | None]


def listen(hearing: Hearing, passings: Sequence[Passing], strays: Sequence[str], rng: random.Random) -> Heard:
    """Return all that one reader reports of a day."""
    if hearing.position == "hand":
        return _by_hand(hearing, passings, rng)
    place = _at_platform if hearing.position == "platform" else _ahead
    near, own = place(hearing, passings, rng)
    near += _strays(hearing, passings, strays, rng)
    return Heard(list(hearing.reader.hear(near, rng)), own)


def _at_platform(
    hearing: Hearing, passings: Sequence[Passing], rng: random.Random
) -> tuple[list[Nearness], list[Window | None]]:
    near: list[Nearness] = []
    own: list[Window | None] = []
    chances = [rng.uniform(*hearing.chance) for _ in passings] if hearing.near_share else None
    for n, this in enumerate(passings):
        window = (
            rng.uniform(this.on_t - 0.8, this.all_on_t),
            rng.uniform(this.leave_t, this.off_t + 0.5),
        )
        missed = rng.random() < hearing.missed
        there = this.tag is not None and not missed
        own.append(window if there else None)
        if there:
            chance = chances[n] if chances else rng.uniform(*hearing.chance)
            near.append(Nearness(*window, str(this.tag), chance, 0.4))
        if rng.random() < hearing.next_read and n + 1 < len(passings):
            near += _waiting(this, passings[n + 1], _beside(hearing, chances, n + 1), rng)
        if rng.random() < hearing.last_read and n > 0:
            near += _lingering(passings[n - 1], this, _beside(hearing, chances, n - 1), rng)
    return near, own


def _beside(hearing: Hearing, chances: Sequence[float] | None, of: int) -> Range:
    """Return the range of the chance with which an animal is heard while it waits or lingers."""
    if hearing.near_share is None or chances is None:
        return hearing.near_chance
    least, most = hearing.near_share
    return least * chances[of], most * chances[of]


def _waiting(this: Passing, following: Passing, chance: Range, rng: random.Random) -> list[Nearness]:
    """Hear the next animal: a glimpse, or from some moment until it steps on itself."""
    if following.tag is None:
        return []
    start = rng.uniform(this.on_t, this.leave_t)
    end = rng.choice((start + rng.uniform(0.5, 4.0), following.on_t))
    return [Nearness(start, max(start + 0.5, min(end, following.on_t)), following.tag, rng.uniform(*chance))]


def _lingering(last: Passing, this: Passing, chance: Range, rng: random.Random) -> list[Nearness]:
    """Hear the last animal from its stepping off until some time into this stay."""
    if last.tag is None:
        return []
    return [Nearness(last.leave_t, this.on_t + rng.uniform(0.3, 6.0), last.tag, rng.uniform(*chance))]


def _strays(hearing: Hearing, passings: Sequence[Passing], strays: Sequence[str], rng: random.Random) -> list[Nearness]:
    near: list[Nearness] = []
    if not (hearing.strays_per_hour and strays and passings):
        return near
    t = passings[0].on_t
    while (t := t + rng.expovariate(hearing.strays_per_hour / 3600)) < passings[-1].off_t:
        length = rng.uniform(*hearing.stray_s)
        near.append(Nearness(t, t + length, rng.choice(strays), rng.uniform(0.02, 0.3), 5.0))
    return near


def _ahead(
    hearing: Hearing, passings: Sequence[Passing], rng: random.Random
) -> tuple[list[Nearness], list[Window | None]]:
    near: list[Nearness] = []
    moments = _order_ahead(hearing, passings, rng)
    own: list[Window | None] = [None] * len(passings)
    for n, this in enumerate(passings):
        before = [t for t in moments[max(0, n - 1) : n + 2] if t > moments[n]]
        clear = max(1.0, min(before, default=moments[n] + 9.0) - moments[n])
        length = rng.uniform(3.0, 20.0) if rng.random() < hearing.stops else rng.uniform(0.8, 2.5)
        window = (moments[n], moments[n] + min(length, clear + 0.5))
        chance = rng.uniform(*hearing.chance)
        missed, backs = rng.random() < hearing.missed, rng.random() < hearing.backs
        if this.tag is None or missed or this.again:
            continue
        own[n] = window
        near.append(Nearness(*window, this.tag, chance, 0.3))
        if backs:  # seen once before, backed out, and came again in its own turn
            first = moments[max(0, n - rng.randint(1, 6))] - rng.uniform(0.5, 6.0)
            near.append(Nearness(first, first + rng.uniform(0.5, 3.0), this.tag, chance, 0.3))
    return near, own


def _order_ahead(hearing: Hearing, passings: Sequence[Passing], rng: random.Random) -> list[float]:
    """Return when each animal passes the panel: when a place comes free in front of it, and well before its stay.

    The day begins with an empty race: the first pass while it fills, the first of all before anybody stands.  One that
    stops comes later, when more than one place may be free; one that jumps the queue overtakes another between
    panel and platform.
    """
    moments: list[float] = []
    for n, this in enumerate(passings):
        if n < hearing.places:
            free = rng.uniform(0.2, this.on_t - 2.0)
        else:
            free = passings[n - hearing.places].on_t + rng.uniform(0.5, 4.0)
        last = moments[-1] + 1.2 if moments else -1e9
        moment = max(last, min(free, this.on_t - 2.0))
        if hearing.lag_s is not None:
            moment = this.on_t - rng.uniform(*hearing.lag_s)
        if rng.random() < hearing.stops:
            moment = max(moment, rng.uniform(moment, this.on_t - 2.0))
        moments.append(moment)
    for n in range(len(moments) - 1):
        if rng.random() < hearing.jumps and moments[n + 1] < passings[n].on_t - 0.5:
            moments[n], moments[n + 1] = moments[n + 1], moments[n]
    return moments


def _by_hand(hearing: Hearing, passings: Sequence[Passing], rng: random.Random) -> Heard:
    reads: list[tuple[float, str]] = []
    own: list[Window | None] = []
    for n, this in enumerate(passings):
        t = rng.uniform(this.all_on_t, this.leave_t)
        slip = rng.random()
        if slip < hearing.early:
            t = this.on_t - rng.uniform(0.5, 6.0)
        elif slip < hearing.early + hearing.late:
            t = this.off_t + rng.uniform(0.2, 6.0)
        neighbours = [passings[other].tag for other in (n - 1, n + 1) if 0 <= other < len(passings)]
        wrong, missed = rng.random() < hearing.wrong, rng.random() < hearing.missed
        tag = rng.choice(neighbours) if wrong and neighbours else this.tag
        presses = rng.choice((1, 1, 1, 2))
        pressed = tag is not None and not missed and not this.again
        reads += [(t + more * rng.uniform(0.4, 1.0), str(tag)) for more in range(presses) if pressed]
        own.append((t - 0.1, t + 1.1) if pressed and tag == this.tag else None)
    return Heard(sorted(reads), own)
