"""How likely a stay's tag is wrong: a chance, from the margin of the assignment and what the margin does not see.

A margin is made of assumed odds, added up as if nothing hung together; where a reader says each tag once, or the tag
was first heard late in the stay, a great margin can be wrong.  So the chance is a logistic regression (D. R. Cox, J.
Royal Stat. Soc. B 20 (1958) 215; from memory) on the margin and on what was heard, fitted to simulated yards drawn from
wide and from hard priors (tests/bench/drawn.py, those with an even seed; every prior there is an assumption).  How well
what is said holds on yards that were never looked at, `tests/bench/pairing.py --drawn` tells bin by bin.

    heard at the platform    PANEL: the weights below, of all its features
    read by hand             HAND: likewise
    heard only ahead         ORDER, for two may change places unseen; STEADY where it came as long before as usual
"""

from collections.abc import Mapping, Sequence
from math import exp

from neckyoke.bridge.station.tags.assignment import Assigned
from neckyoke.bridge.station.tags.readers.detections import Pass, Span, during
from neckyoke.bridge.station.tags.readers.hand import away_s
from neckyoke.bridge.station.tags.readers.panel import heard_slots, slots
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Score

PANEL = {
    "margin": -0.69,  # points, up to MOST
    "beyond": -0.14,  # of those, what is above 6
    "unheard": -1.81,  # not heard in the stay: beside it
    "late": 0.82,  # first heard so far into the stay, as a share of it; half when not
    "after": 2.07,  # heard in the next stay too
    "before": -1.06,  # heard in the stay before too
    "late_once": 1.84,  # as late, where the reader says a tag about once a stay
    "once": -0.18,  # the reader does
    "often": -1.39,  # heard more than three times
    "others": -0.35,  # other tags heard in the stay, up to three
    "taker": -1.84,  # the next best assignment gives it to another stay
    "ahead": 0.97,  # heard ahead too
    "disordered": 0.49,  # points that the order ahead was less sure of than four
    "new": -2.79,  # first heard in this stay
    "thin": 1.15,  # heard in less than THIN of the share that is usual
}
PANEL_BIAS = 3.46
HAND = {"margin": -0.43, "beyond": -1.46, "away": 0.29}  # away: read outside the stay
HAND_BIAS = -1.34
MOST, BEND = 14.0, 6.0
ORDER, STEADY = 2.0, 0.05
"""Percent: order alone, as often as animals are assumed to change places; none of 4,500 steady lags was wrong."""
ONCE_SLOTS, THIN = 2.0, 0.3


def wrong_percent(
    at: int,
    spans: Sequence[Span],
    passes: Sequence[Pass],
    got: Assigned,
    score: Score | None,
    models: Mapping[str, ReaderModel],
    *,
    steady: bool,
) -> float:
    """Return the chance that the tag a stay got is not its animal's, in percent.

    `models`: of all readers of the station; `steady`: it came past ahead as long before its first foot as usual.
    """
    assert got.tag is not None, "a tag was given"
    one = passes[got.tag]
    margin = min(got.margin, MOST)
    points = {"margin": margin, "beyond": max(0.0, margin - BEND)}
    positions = {heard.position for heard in one.heard}
    if "platform" in positions:
        return _percent(PANEL_BIAS, PANEL, points | _heard(at, spans, passes, one, got, score, models))
    if "hand" in positions:
        away = away_s([heard for heard in one.heard if heard.position == "hand"], spans[at]) > 0
        return _percent(HAND_BIAS, HAND, points | {"away": float(away)})
    return STEADY if steady else ORDER


def _heard(
    at: int,
    spans: Sequence[Span],
    passes: Sequence[Pass],
    one: Pass,
    got: Assigned,
    score: Score | None,
    models: Mapping[str, ReaderModel],
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
    others = sum(1 for other in passes if other is not one and during(other.near, span))
    return {
        "unheard": float(not here),
        "late": late,
        "after": float(at + 1 < len(spans) and bool(during(near, spans[at + 1], slack=False))),
        "before": float(at > 0 and bool(during(near, spans[at - 1], slack=False))),
        "late_once": late if once and here else 0.0,
        "once": float(once),
        "often": float(len(near) > 3),
        "others": float(min(others, 3)),
        "taker": float(got.taker is not None),
        "ahead": float(ahead),
        "disordered": max(0.0, 4.0 - sure_of_order) if ahead else 0.0,
        "new": float(bool(here) and here[0] is near[0]),
        "thin": float(bool(here) and heard_slots(here, span) / slots(span) < THIN * usual),
    }


def _percent(bias: float, weights: Mapping[str, float], features: Mapping[str, float]) -> float:
    return 100 / (1 + exp(-bias - sum(weights[name] * value for name, value in features.items())))
