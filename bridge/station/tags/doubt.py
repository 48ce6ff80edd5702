"""How likely a stay's tag is wrong: a chance, from the margin of the assignment and what the margin does not see.

A margin is made of assumed odds, added up as if nothing hung together; where a reader says each tag once, or the tag
was first heard late in the stay, a great margin can be wrong.  So the chance is a logistic regression (D. R. Cox, J.
Royal Stat. Soc. B 20 (1958) 215; from memory) on the margin and on what was heard, fitted to simulated yards drawn from
wide and from hard priors (tests/bench/drawn.py, those with an even seed; every prior there is an assumption).  How well
what is said holds on yards that were never looked at, `tests/bench/pairing.py --drawn` tells bin by bin.

PANEL was fitted to 39,285 pairs, 577 of them wrong: the first 400 such yards each of the rows wide, panel and both (L2,
C = 0.3 on features scaled to one standard deviation; kept are those whose absence cost likelihood in the fourth of the
yards left out).  `thin` was left at 1.15, where 0.43 was fitted: a reader that mostly hears well is rare there.
`unordered` came later, over the others: 0.8 was fitted to 279 pairs, 30 of them wrong; twice that leaves none unseen.

    heard at the platform    PANEL: the weights below, of all its features; ONCE where each tag is said once
    read by hand alone       TURN: from its chance of all orders (readers/chances.py), a little too sure
    read by hand too         HAND: likewise, where a reader at the platform did not hear it
    heard only ahead         ORDER, for two may change places unseen, LOOSE where another order is nearly as likely;
                             PLACED where both neighbours were heard at the platform, neither in this stay: they did not
                             change places; STEADY where it came as long before as usual, or alone where there is one
                             place (readers/race.py)
"""

from collections.abc import Mapping, Sequence
from math import exp, log, log1p
from types import MappingProxyType

from neckyoke.bridge.station.tags.assignment import NOBODY, Assigned
from neckyoke.bridge.station.tags.readers.detections import Pass, Span, during
from neckyoke.bridge.station.tags.readers.hand import away_s
from neckyoke.bridge.station.tags.readers.panel import heard_slots, slots
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Score

PANEL = {
    "margin": -0.71,  # points, up to MOST
    "after": 1.57,  # heard in the next stay too
    "before": -0.77,  # heard in the stay before too
    "late_once": 2.76,  # first heard so far into the stay, as a share of it, by a reader that says a tag about once
    "once": -0.89,  # the reader does
    "unheard_once": 1.23,  # it does, and said it not in the stay but beside it
    "single": 0.98,  # heard once in all
    "often": 0.33,  # heard more than three times
    "unclaimed": -1.05,  # other tags heard in the stay that no stay got, up to two
    "elsewhere": 3.50,  # came by not long before or after too, and did not stand there well both times
    "taker": -1.84,  # the next best assignment gives it to another stay
    "taker_next": 0.72,  # to the next
    "late_next": 2.18,  # first heard so far into the stay, and the next stay has no tag
    "ahead": 0.50,  # heard ahead too
    "only_near": 1.54,  # not heard ahead, though a reader stands there
    "disordered": 0.49,  # points that the order ahead was less sure of than four
    "unordered": 1.5,  # it was: the points for a place in the queue are more than the order is sure of
    "new": -3.02,  # first heard in this stay
    "soon": 0.83,  # logarithm of how long after stepping on it was first heard, against what is usual
    "tail": 2.45,  # not heard any more in the last part of the stay, as a share of it
    "neighbours": 5.31,  # in how many stays a neighbour is heard here
    "thin": 1.15,  # heard in less than THIN of the share that is usual
}
PANEL_BIAS = -0.31
HAND = {"margin": -0.43, "beyond": -1.46, "away": 0.29}  # away: read outside the stay
HAND_BIAS = -1.34
ONCE = {
    "unlikely": 0.77,  # the same, of all orders
    "before": -3.31,  # and below: as of PANEL
    "late_next": 2.47,
    "soon": 1.72,
    "new": -3.38,
    "neighbours": 11.67,
}
ONCE_BIAS = 0.22
"""Fitted to 2,328 pairs, 148 of them wrong: of 400 yards of the row panel, those whose reader says each tag once."""
SUREST = 5e-4
"""No chance of all orders is taken for more."""
TURN, TURN_BIAS, TURN_LEAST = {"unlikely": 0.88}, -0.15, 1e-4  # logarithm of the odds against it, of all orders
"""Fitted to 8,808 pairs, 394 of them wrong: 200 such yards of the row stick, and those of 300 of the row wide that have
nothing but a reader in the hand."""
MISTAKEN = 6e-3
"""Who reads a neighbour in an animal's place leaves that neighbour unread: of 534 tags that order was sure of, beside a
stay without one, 3 were the neighbour's; of 3,553 others none."""
MOST, BEND = 14.0, 6.0
LOOSE, ORDER, PLACED, STEADY = 35.0, 1.6, 0.3, 0.05
CLEARLY = 2.5
"""Percent; LOOSE where the margin is less.  In the yards that were fitted to, 30 of 84 such pairs were wrong, 11 of 707
others, none of 656 between two that were heard, and none of 4,500 of a steady lag."""
ONCE_SLOTS, THIN = 2.0, 0.3
AGAIN_S, WELL = 60.0, 0.5


def wrong_percent(
    at: int,
    spans: Sequence[Span],
    passes: Sequence[Pass],
    got: Assigned,
    score: Score | None,
    models: Mapping[str, ReaderModel],
    given: Mapping[int, int | None] = MappingProxyType({}),
    *,
    steady: bool,
) -> float:
    """Return the chance that the tag a stay got is not its animal's, in percent.

    `models`: of all readers of the station; `steady`: it came past ahead as long before its first foot as usual;
    `given`: the pass that each stay got, by their places.
    """
    assert got.tag is not None, "a tag was given"
    one = passes[got.tag]
    margin = min(got.margin, MOST)
    positions = {heard.position for heard in one.heard}
    chance = score.chance if score is not None else None
    if "platform" in positions:
        found = _heard(at, spans, passes, one, got, score, models, given)
        if chance is not None:
            return _percent(ONCE_BIAS, ONCE, {name: found[name] for name in ONCE if name in found} | _unlikely(chance))
        return _percent(PANEL_BIAS, PANEL, found | {"margin": margin})
    if chance is not None:
        unread = any(given.get(beside, NOBODY) is None for beside in (at - 1, at + 1))
        least = MISTAKEN if unread else TURN_LEAST
        return 100 * least + (1 - least) * _percent(TURN_BIAS, TURN, _unlikely(chance))
    if "hand" in positions:
        away = away_s([heard for heard in one.heard if heard.position == "hand"], spans[at]) > 0
        beyond = max(0.0, margin - BEND)
        return _percent(HAND_BIAS, HAND, {"margin": margin, "beyond": beyond, "away": float(away)})
    if steady:
        return STEADY
    return LOOSE if margin < CLEARLY else PLACED if is_between(at, spans, passes, given) else ORDER


def _heard(
    at: int,
    spans: Sequence[Span],
    passes: Sequence[Pass],
    one: Pass,
    got: Assigned,
    score: Score | None,
    models: Mapping[str, ReaderModel],
    given: Mapping[int, int | None],
) -> dict[str, float]:
    """Return the features of a pass that was heard at the platform."""
    span = spans[at]
    near = [heard for heard in one.heard if heard.position == "platform"]
    here = during(near, span)
    late = min(max(here[0].t - span.on, 0.0), span.length_s) / span.length_s if here else 0.5
    usual = models[near[0].link].share
    once = usual * slots(span) < ONCE_SLOTS
    ahead = any(heard.position == "ahead" for heard in one.heard)
    sure_of_order = score.order_margin[0] if score is not None else MOST
    beside = [other for other in passes if other is not one and during(other.near, span)]
    has_race = any(other.heard[0].position == "ahead" for other in passes)
    had = {id(passes[of]) for of in given.values() if of is not None}
    next_untagged = at + 1 < len(spans) and given.get(at + 1, 0) is None
    first_s = max(0.0, here[0].t - span.on) if here else 0.0
    return {
        "after": float(at + 1 < len(spans) and bool(during(near, spans[at + 1], slack=False))),
        "before": float(at > 0 and bool(during(near, spans[at - 1], slack=False))),
        "late_once": late if once and here else 0.0,
        "once": float(once),
        "unheard_once": float(once and not here),
        "single": float(len(near) == 1),
        "often": float(len(near) > 3),
        "unclaimed": float(min(sum(1 for other in beside if id(other) not in had), 2)),
        "elsewhere": float(_is_elsewhere(one, passes, spans)),
        "taker": float(got.taker is not None),
        "taker_next": float(got.taker == at + 1),
        "late_next": late if here and next_untagged else 0.0,
        "ahead": float(ahead),
        "only_near": float(not ahead and has_race),
        "disordered": max(0.0, 4.0 - sure_of_order) if ahead else 0.0,
        "unordered": float(ahead and sure_of_order < 4.0),
        "new": float(bool(here) and here[0] is near[0]),
        "soon": log1p(first_s / models[near[0].link].entry_s),
        "tail": min(max(span.off - here[-1].t, 0.0) / span.length_s, 1.0) if here else 0.0,
        "neighbours": models[near[0].link].beside,
        "thin": float(bool(here) and heard_slots(here, span) / slots(span) < THIN * usual),
    }


def is_between(at: int, spans: Sequence[Span], passes: Sequence[Pass], given: Mapping[int, int | None]) -> bool:
    """Return whether both neighbours of a stay have tags that were heard at the platform, and not in this stay too."""
    had = [passes[of] if (of := given.get(beside)) is not None else None for beside in (at - 1, at + 1)]
    return all(
        one is not None
        and any(heard.position == "platform" for heard in one.heard)
        and not during(one.near, spans[at], slack=False)
        for one in had
    )


def _unlikely(chance: float) -> dict[str, float]:
    unlikely = min(max(1 - chance, SUREST), 1 - SUREST)
    return {"unlikely": log(unlikely / (1 - unlikely))}


def _is_elsewhere(one: Pass, passes: Sequence[Pass], spans: Sequence[Span]) -> bool:
    """Return whether a tag came by twice within `AGAIN_S`, and was not heard through most of a stay both times.

    Then one of the two was its waiting or lingering.  Heard well both times, its animal went round again.
    """
    again = [
        other
        for other in passes
        if other is not one
        and other.code == one.code
        and other.first - one.last < AGAIN_S
        and one.first - other.last < AGAIN_S
    ]
    return any(min(_longest(one, spans), _longest(other, spans)) < WELL for other in again)


def _longest(one: Pass, spans: Sequence[Span]) -> float:
    """Return the largest share of a stay from the first to the last that was heard of a tag in it."""
    heard = [(span, during(one.near, span)) for span in spans]
    return max(((mine[-1].t - mine[0].t) / span.length_s for span, mine in heard if mine), default=0.0)


def _percent(bias: float, weights: Mapping[str, float], features: Mapping[str, float]) -> float:
    return 100 / (1 + exp(-bias - sum(weights[name] * value for name, value in features.items())))
