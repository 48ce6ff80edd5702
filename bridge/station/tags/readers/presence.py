"""When a tag was heard, moment by moment: how likely that is, by the stay that was its animal's.

Theory.  An animal comes, stands, and goes, and a reader at the platform may hear it all the while:

    away       before and after: it is not heard, but for `NOISE`
    waits      from some moment of the stay before its own, for a glimpse or until it steps on; `beside` of animals do
    stands     from about when its first foot is on until about when its last is off; `missed` are not heard meanwhile
    lingers    from then into the stay after its own; `beside` of animals do

Which of these it is in, nobody sees: a hidden Markov model from left to right (L. R. Rabiner, Proc. IEEE 77 (1989) 257;
from memory), summed forwards over slots of half a second.  In a slot, a tag that stands there is heard with a chance of
its own, for ears lie as they lie: the mean is taken over `TIMES` what this reader mostly hears (as rates: a third of
the rate to four times it).  One that waits or lingers is further off, and is heard at `NEAR` of that same rate
(simulators/crush/hearing.py).  What was heard in the slot before is heard the likelier (`STICKS`): an ear keeps its
position for a while.  A reader that repeats a tag no sooner than `repeat_s` is silent until then, whatever is near.

What was heard elsewhere, and all of it of an animal that stood in no stay here, is as of one in the adjoining pen: it
comes, is heard for some minutes, as well or badly as may be, and is gone.

`NEAR`, `STICKS`, `GLIMPSE_PER_S` and `TIMES` are those by which 4,600 pairs of drawn yards (tests/bench/drawn.py, the
first 80 each of the rows wide, panel and both, even seeds) were told right from wrong the best; each was tried by hand
at two or three values, and none matters much.  The rest are the simulator's ranges, which are assumptions.
"""

from collections.abc import Sequence
from functools import lru_cache
from math import exp, inf, log
from typing import NamedTuple

from neckyoke.bridge.station.tags.readers.detections import Span

SLOT_S = 0.5
TIMES = (0.3, 0.7, 1.5, 4.0)
MOST = 0.95
NEAR, STICKS = 0.5, 0.25
NOISE = 1e-5
GLIMPSE_PER_S, COMES_PER_S, GOES_PER_S = 0.12, 0.02, 0.25
"""One that waits is out of reach again; comes into it between two stays; lingers no more where none follows."""
HEAD_S, FEET_S, LEAVES_S, LINGERS_S = 1.0, 1.5, 1.0, 6.0
"""The head comes so long before the feet weigh, and is there so long after at the latest; leaves so long about the end;
has mostly gone so long after the next stay began, and of those still there half go in each slot more."""
HALF = 0.5
MOST_SLOTS = 600
"""Of a longer stay only the beginning is looked at: what was heard later counts as heard elsewhere."""
PEN_S, PEN, IN_PEN = 300.0, 0.003, (0.03, 0.1, 0.3, 0.7, 0.9)
"""How long one in the adjoining pen is not near, and then is; how many tags are such; and how well those are heard."""


class Hears(NamedTuple):
    """How a reader hears.

    `share`: of slots in which it hears what stands there.  `repeat_s`: no sooner does it say a tag again.  `beside`: of
    the neighbours it hears so many, and `missed`: of those that stand there it hears so many not.
    """

    share: float
    repeat_s: float
    beside: float
    missed: float


class Step(NamedTuple):
    """The chance in one slot to begin to wait, to step on, to step off, to linger no more; `here`: it waits no more."""

    wait: float
    on: float
    off: float
    gone: float
    here: bool


@lru_cache(maxsize=4096)
def stood(heard: tuple[float, ...], before: Span | None, own: Span, after: Span | None, hears: Hears) -> float:
    """Return how likely a tag is heard at these times whose animal stood in `own`, as a natural logarithm.

    `before` and `after` are the stays beside it.
    """
    start = min(own.on - 4.0, before.on if before is not None else inf)
    steps = _steps(before, own, after, hears.beside, start)
    slots, elsewhere = [False] * len(steps), []
    for t in heard:
        slot = int((t - start) // SLOT_S)
        if 0 <= slot < len(slots):
            slots[slot] = True
        else:
            elsewhere.append(t)
    found: float = _mean([_forward(slots, steps, _share(hears, times), hears) for times in TIMES])
    if elsewhere:
        found += max(log(PEN) + roamed(tuple(elsewhere), hears.repeat_s), len(elsewhere) * log(NOISE))
    return found


def unheard(own: Span, hears: Hears) -> float:
    """Return how likely an animal is not heard at all that stands for as long as this, a chance."""
    slots = own.length_s / SLOT_S
    silent = sum((1 - _share(hears, times)) ** slots for times in TIMES) / len(TIMES)
    return float(hears.missed + (1 - hears.missed) * silent)


@lru_cache(maxsize=1024)
def waited(heard: tuple[float, ...], last: Span, hears: Hears) -> float:
    """Return how likely a tag is heard at these times whose animal has not stepped on by the end of the `last` stay."""
    slots, elsewhere = [False] * min(int(last.length_s / SLOT_S + 1), MOST_SLOTS), []
    steps = _steps(last, Span(0, last.off + HEAD_S + SLOT_S, last.off + LINGERS_S), None, hears.beside, last.on)
    for t in heard:
        slot = int((t - last.on) // SLOT_S)
        if 0 <= slot < len(slots):
            slots[slot] = True
        else:
            elsewhere.append(t)
    found: float = _mean([_forward(slots, steps[: len(slots)], _share(hears, times), hears) for times in TIMES])
    return found + len(elsewhere) * log(NOISE)


@lru_cache(maxsize=1024)
def roamed(heard: tuple[float, ...], repeat_s: float) -> float:
    """Return how likely a tag is heard at these times whose animal stood in no stay here, as a natural logarithm."""
    if not heard:
        return 0.0
    start = heard[0] - SLOT_S
    slots = [False] * (int((heard[-1] + 2.0 - start) / SLOT_S) + 1)
    for t in heard:
        slots[int((t - start) / SLOT_S)] = True
    return _mean([_in_pen(slots, share, round(repeat_s / SLOT_S)) for share in IN_PEN])


@lru_cache(maxsize=256)
def _steps(before: Span | None, own: Span, after: Span | None, beside: float, start: float) -> Sequence[Step]:
    """Return what may happen in each slot."""
    end = max(own.off + 2.0, after.on + LINGERS_S if after is not None else 0.0)
    steps = []
    for slot in range(min(int((end - start) / SLOT_S) + 1, MOST_SLOTS)):
        t = start + (slot + 0.5) * SLOT_S
        wait = 0.0
        if before is not None and before.on <= t < own.on:
            passed = (t - before.on) / before.length_s
            evenly = beside * SLOT_S / before.length_s / max(1 - beside * passed, SLOT_S)
            wait = min(1.0, evenly) if t < before.off else COMES_PER_S * SLOT_S
        on = _by(own.on + FEET_S, t) if t >= own.on - HEAD_S else 0.0
        off = _by(own.off + LEAVES_S, t) if t >= own.off - LEAVES_S else 0.0
        gone = (
            GOES_PER_S * SLOT_S if after is None else min(HALF, _by(after.on + LINGERS_S, t)) if t >= after.on else 0.0
        )
        steps.append(Step(wait, on, off, gone, here=t >= own.on - SLOT_S))
    return steps


def _share(hears: Hears, times: float) -> float:
    """Return in what share of slots a tag is heard that is heard at so many times the usual rate."""
    return min(MOST, float(1 - (1 - hears.share) ** times))


def _by(end: float, t: float) -> float:
    """Return the chance that what happens at any moment until `end` happens in this slot."""
    return min(1.0, SLOT_S / max(end - t, SLOT_S))


def _forward(slots: Sequence[bool], steps: Sequence[Step], share: float, hears: Hears) -> float:
    """Return the logarithm of the sum over all ways through the states."""
    quiet, beside, missed = round(hears.repeat_s / SLOT_S), hears.beside, hears.missed
    table = _table(1 - (1 - share) ** NEAR, share)
    away, waits, stands, unheard, lingers, gone = 1.0, 0.0, 0.0, 0.0, 0.0, 0.0
    total, since, was, left = 0.0, 1_000_000, False, sum(slots)
    for heard, (wait, on, off, goes, here) in zip(slots, steps, strict=True):
        if not left and gone > ALL_BUT * (away + waits + stands + unheard + lingers):
            break
        left -= heard
        if wait or waits:
            back = waits * (1.0 if here else GLIMPSE_PER_S * SLOT_S)
            waits += away * wait - back
            away += (0.0 if here else back) - away * wait
            stands += here * back * (1 - missed)
            unheard += here * back * missed
        if on:
            stands += away * on * (1 - missed)
            unheard += away * on * missed
            away -= away * on
        if off:
            moved = (stands + unheard) * off
            stands -= stands * off
            unheard -= unheard * off
            lingers += moved * beside
            gone += moved * (1 - beside)
        if goes:
            gone += lingers * goes
            lingers -= lingers * goes
        since += 1
        if heard or since >= quiet:
            far, near = table[heard, was and not quiet]
            waits, lingers, stands = waits * far, lingers * far, stands * near
        if heard:
            away, unheard, gone, since = away * NOISE, unheard * NOISE, gone * NOISE, 0
            whole = away + waits + stands + unheard + lingers + gone
            total += log(whole)
            away, waits, stands = away / whole, waits / whole, stands / whole
            unheard, lingers, gone = unheard / whole, lingers / whole, gone / whole
        was = heard
    return total + log(away + waits + stands + unheard + lingers + gone)


def _table(near: float, share: float) -> dict[tuple[bool, bool], tuple[float, float]]:
    """Return by (heard, heard in the slot before) the chances of that, of one that waits or lingers and that stands."""
    return {
        (True, False): (near, share),
        (True, True): (near + (1 - near) * STICKS, share + (1 - share) * STICKS),
        (False, False): (1 - near, 1 - share),
        (False, True): ((1 - near) * (1 - STICKS), (1 - share) * (1 - STICKS)),
    }


ALL_BUT = 1000.0
"""Once all is over but for so small a part, silence tells nothing more."""


def _in_pen(slots: Sequence[bool], share: float, quiet: int) -> float:
    away, near, gone = 1.0, 0.0, 0.0
    total, since, was = 0.0, 1_000_000, False
    for heard in slots:
        comes, goes = away * SLOT_S / PEN_S, near * SLOT_S / PEN_S
        away, near, gone = away - comes, near + comes - goes, gone + goes
        since += 1
        sticks = was and not quiet
        if heard:
            away, near, gone = away * NOISE, near * (share + (1 - share) * STICKS if sticks else share), gone * NOISE
            since = 0
        elif since >= quiet:
            near *= (1 - share) * (1 - STICKS) if sticks else 1 - share
        was = heard
        whole = away + near + gone
        total += log(whole)
        away, near, gone = away / whole, near / whole, gone / whole
    return total


def _mean(logs: Sequence[float]) -> float:
    """Return the logarithm of the mean of what these are the logarithms of."""
    most = max(logs)
    return most + log(sum(exp(one - most) for one in logs) / len(logs))
