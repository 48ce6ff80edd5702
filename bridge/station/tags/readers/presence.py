"""When a tag was heard, moment by moment: how likely that is, by the stay that was its animal's.

Theory.  An animal comes, stands, and goes, and a reader at the platform may hear it all the while:

    away       before and after: it is not heard, but for `NOISE`
    waits      from some moment of the stay before its own, for a glimpse or until it steps on; `beside` of animals do
    stands     from about when its first foot is on until about when its last is off; `missed` are not heard meanwhile
    lingers    from then into the stay after its own; `beside` of animals do

Which of these it is in, nobody sees: a hidden Markov model from left to right (L. R. Rabiner, Proc. IEEE 77 (1989) 257;
from memory), summed forwards over slots of half a second.  In a slot, a tag that stands there is heard with a chance of
its own, for ears lie as they lie: the mean is taken over `TIMES` what this reader mostly hears (as rates: a third of
the rate to four times it; with half and twice it alone, one heard all the while it waited is told worse).  One that
waits or lingers is further off, and is heard at `NEAR` of that same rate (simulators/crush/hearing.py).  What was heard
in the slot before is heard the likelier (`STICKS`): an ear keeps its position for a while.  A reader that repeats a tag
no sooner than `repeat_s` is silent until then, whatever is near.

It is asked for again and again, for each tag about a stay while that lasts.  So what matters of a stay is kept apart
(`Place`), the sum up to the first moment at which a tag was heard serves all of them (`_silent`), and so does that of
one that is not heard at all.

What was heard elsewhere, and all of it of an animal that stood in no stay here, is as of one in the adjoining pen: it
comes, is heard for some minutes, as well or badly as may be, and is gone.

`NEAR`, `STICKS`, `GLIMPSE_PER_S` and `TIMES` are those by which 4,600 pairs of drawn yards (tests/bench/drawn.py, the
first 80 each of the rows wide, panel and both, even seeds) were told right from wrong the best; each was tried by hand
at two or three values, and none matters much.  The rest are the simulator's ranges, which are assumptions.
"""

from collections.abc import Sequence
from functools import lru_cache
from math import exp, inf, log
from typing import NamedTuple, TypeAlias

from neckyoke.bridge.station.tags.readers.detections import Span

SLOT_S = 0.5
TIMES = (0.3, 1.1, 4.0)
MOST = 0.95
NEAR, STICKS = 0.5, 0.25
NOISE = 1e-5
GLIMPSE_PER_S, COMES_PER_S, GOES_PER_S = 0.12, 0.02, 0.25
"""One that waits is out of reach again; comes into it between two stays; lingers no more where none follows."""
HEAD_S, FEET_S, LEAVES_S, LINGERS_S = 1.0, 1.5, 1.0, 6.0
"""The head comes so long before the feet weigh, and is there so long after at the latest; leaves so long about the end;
has mostly gone so long after the next stay began, and of those still there half go in each slot more."""
HALF = 0.5
ALONE_S = 4.0
"""What is heard of an animal that followed none begins no sooner before its first foot."""
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


class Place(NamedTuple):
    """A stay among its neighbours, in seconds: all that matters of them here, so that what was reckoned serves again.

    `before_on`, `before_off`: of the stay before it, None where nobody waited; `after_on`: when the next one began.
    """

    before_on: float | None
    before_off: float
    on: float
    off: float
    after_on: float | None

    @property
    def start(self) -> float:
        """When the first slot begins."""
        return min(self.on - ALONE_S, self.before_on if self.before_on is not None else inf)


State: TypeAlias = tuple[float, float, float, float, float, float]
"""Chances: it is away, waits, stands, stands unheard, lingers, is gone."""
ALL_AWAY: State = (1.0, 0.0, 0.0, 0.0, 0.0, 0.0)
ALL_BUT = 1000.0
"""Once all is over but for so small a part, silence tells nothing more."""


class Step(NamedTuple):
    """The chance in one slot to begin to wait, to step on, to step off, to linger no more; `here`: it waits no more."""

    wait: float
    on: float
    off: float
    gone: float
    here: bool


def stood(heard: tuple[float, ...], before: Span | None, own: Span, after: Span | None, hears: Hears) -> float:
    """Return how likely a tag is heard at these times whose animal stood in `own`, as a natural logarithm.

    `before` and `after` are the stays beside it.
    """
    return _stood(heard, place(before, own, after), hears)


def place(before: Span | None, own: Span, after: Span | None) -> Place:
    """Return what matters of a stay and those beside it."""
    before_on, before_off = (before.on, before.off) if before is not None else (None, 0.0)
    return Place(before_on, before_off, own.on, own.off, after.on if after is not None else None)


@lru_cache(maxsize=4096)
def _stood(heard: tuple[float, ...], where: Place, hears: Hears) -> float:
    within, elsewhere = _split(heard, where.start, len(_steps(where, hears.beside)))
    found = _ways(within, where, hears)
    if elsewhere:
        found += max(log(PEN) + roamed(elsewhere, hears.repeat_s), len(elsewhere) * log(NOISE))
    return found


@lru_cache(maxsize=1024)
def waited(heard: tuple[float, ...], last: Span, hears: Hears) -> float:
    """Return how likely a tag is heard at these times whose animal has not stepped on by the end of the `last` stay."""
    where = Place(last.on, last.off, last.off + HEAD_S + SLOT_S, last.off + LINGERS_S, None)
    slots = min(int((last.off - where.start) / SLOT_S + 1), MOST_SLOTS)
    within, elsewhere = _split(heard, where.start, slots)
    return _ways(within, where, hears, slots) + len(elsewhere) * log(NOISE)


def _split(heard: Sequence[float], start: float, slots: int) -> tuple[list[int], tuple[float, ...]]:
    """Return in which slots something was heard, in order, and when else."""
    at = [(int((t - start) // SLOT_S), t) for t in heard]
    within = sorted({slot for slot, _ in at if 0 <= slot < slots})
    return within, tuple(t for slot, t in at if not 0 <= slot < slots)


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
def _steps(where: Place, beside: float) -> Sequence[Step]:
    """Return what may happen in each slot."""
    before_on, before_off, own_on, own_off, after_on = where
    start = where.start
    end = max(own_off + 2.0, after_on + LINGERS_S if after_on is not None else 0.0)
    before_s = max(before_off - before_on, SLOT_S) if before_on is not None else inf
    steps = []
    for slot in range(min(int((end - start) / SLOT_S) + 1, MOST_SLOTS)):
        t = start + (slot + 0.5) * SLOT_S
        wait = 0.0
        if before_on is not None and before_on <= t < own_on:
            evenly = beside * SLOT_S / before_s / max(1 - beside * (t - before_on) / before_s, SLOT_S)
            wait = min(1.0, evenly) if t < before_off else COMES_PER_S * SLOT_S
        on = _by(own_on + FEET_S, t) if t >= own_on - HEAD_S else 0.0
        off = _by(own_off + LEAVES_S, t) if t >= own_off - LEAVES_S else 0.0
        if after_on is None:
            gone = GOES_PER_S * SLOT_S
        else:
            gone = min(HALF, _by(after_on + LINGERS_S, t)) if t >= after_on else 0.0
        steps.append(Step(wait, on, off, gone, here=t >= own_on - SLOT_S))
    return steps


def _share(hears: Hears, times: float) -> float:
    """Return in what share of slots a tag is heard that is heard at so many times the usual rate."""
    return min(MOST, float(1 - (1 - hears.share) ** times))


def _by(end: float, t: float) -> float:
    """Return the chance that what happens at any moment until `end` happens in this slot."""
    return min(1.0, SLOT_S / max(end - t, SLOT_S))


def _ways(heard: Sequence[int], where: Place, hears: Hears, slots: int | None = None) -> float:
    """Return the logarithm of the sum over all ways through the states; `heard`: in which slots, in order.

    `slots`: of so many only.
    """
    steps = _steps(where, hears.beside)
    end = len(steps) if slots is None else slots
    if not heard:
        return _mean([log(sum(_silent(where, hears, times)[end])) for times in TIMES])
    first = heard[0]
    rest = [False] * (end - first)
    for slot in heard:
        rest[slot - first] = True
    return _mean(
        [
            _on(_silent(where, hears, times)[first], rest, steps[first:end], _share(hears, times), hears)
            for times in TIMES
        ]
    )


@lru_cache(maxsize=512)
def _silent(where: Place, hears: Hears, times: float) -> Sequence[State]:
    """Return the states before each slot, and after the last, while nothing is heard."""
    steps, kept = _steps(where, hears.beside), [ALL_AWAY]
    _on(ALL_AWAY, [False] * len(steps), steps, _share(hears, times), hears, kept)
    return kept


def _on(
    state: State,
    slots: Sequence[bool],
    steps: Sequence[Step],
    share: float,
    hears: Hears,
    kept: list[State] | None = None,
) -> float:
    """Go on from a state, before which nothing was heard; return the logarithm of the sum over all ways.

    `slots`: whether anything is heard in each; `kept` takes the state after each.
    """
    quiet, beside, missed = round(hears.repeat_s / SLOT_S), hears.beside, hears.missed
    far, stays, back_again = 1 - (1 - share) ** NEAR, 1 - missed, GLIMPSE_PER_S * SLOT_S
    away, waits, stands, unheard, lingers, gone = state
    total, since, sticks, left = 0.0, 1_000_000, False, sum(slots)
    never_far, never_near = 1 - far, 1 - share
    for heard, (wait, on, off, goes, here) in zip(slots, steps, strict=True):
        if not left and kept is None and gone > ALL_BUT * (away + waits + stands + unheard + lingers):
            break
        if waits or wait:
            back = waits if here else waits * back_again
            waits, away = waits + away * wait - back, away + (0.0 if here else back) - away * wait
            stands, unheard = stands + here * back * stays, unheard + here * back * missed
        if on and away:
            comes = away * on
            away, stands, unheard = away - comes, stands + comes * stays, unheard + comes * missed
        if off:
            moved = (stands + unheard) * off
            stands, unheard = stands * (1 - off), unheard * (1 - off)
            lingers, gone = lingers + moved * beside, gone + moved * (1 - beside)
        if goes and lingers:
            lingers, gone = lingers * (1 - goes), gone + lingers * goes
        since += 1
        if heard:
            left -= 1
            from_far, from_near = (far + never_far * STICKS, share + never_near * STICKS) if sticks else (far, share)
            away, waits, stands = away * NOISE, waits * from_far, stands * from_near
            unheard, lingers, gone = unheard * NOISE, lingers * from_far, gone * NOISE
            whole = away + waits + stands + unheard + lingers + gone
            total += log(whole)
            away, waits, stands = away / whole, waits / whole, stands / whole
            unheard, lingers, gone = unheard / whole, lingers / whole, gone / whole
            since, sticks = 0, not quiet
        elif since >= quiet:
            still = 1 - STICKS if sticks else 1.0
            silent, sticks = never_far * still, False
            waits, lingers, stands = waits * silent, lingers * silent, stands * never_near * still
        if kept is not None:
            kept.append((away, waits, stands, unheard, lingers, gone))
    return total + log(away + waits + stands + unheard + lingers + gone)


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
