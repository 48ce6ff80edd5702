"""How likely a stay's tag is wrong: a chance, from the margin of the assignment and what the margin does not see.

A margin is made of assumed odds, added up as if nothing hung together; where a reader says each tag once, or the tag
was first heard late in the stay, a great margin can be wrong.  So where a reader at the platform heard the tag, all
ways to deal the tags about the stay are looked at (readers/closer.py), which assumes in turn how animals wait and
linger; and the chance is a logistic regression (D. R. Cox, J. Royal Stat. Soc. B 20 (1958) 215; from memory) on that,
on the margin, and on what was heard.  It is fitted to simulated yards drawn from wide and from hard priors
(tests/bench/drawn.py, those with an even seed; every prior there is an assumption).  How well what is said holds on
yards that were never looked at, `tests/bench/pairing.py --drawn` tells bin by bin.

    heard at the platform    PANEL: the weights below, of all its features; ONCE where each tag is said once; no less
                             than STRAY where it was heard once, and never by a reader that stands ahead, nor than
                             LOOKED of what the closer look says
    read by hand alone       from its chance of all ways (readers/chances.py)
    read by hand too         HAND: likewise, where a reader at the platform did not hear it
    heard only ahead         ORDER, for two may change places unseen, LOOSE where another order is nearly as likely;
                             PLACED where both neighbours were heard at the platform, and more in their own stay than in
                             this: they did not change places; STEADY where it came as long before as usual, or alone
                             where there is one place (readers/race.py)

`tests/bench/sureness.py` fits PANEL and ONCE anew; its figures stand beside them.
"""

from collections.abc import Mapping, Sequence
from math import exp, log, log1p

from neckyoke.bridge.station.tags.assignment import NOBODY, Assigned
from neckyoke.bridge.station.tags.readers.closer import CLOSE, CLOSE_ELSE, LONG_S, Around, look, together
from neckyoke.bridge.station.tags.readers.detections import Pass, Span, during
from neckyoke.bridge.station.tags.readers.hand import away_s
from neckyoke.bridge.station.tags.readers.panel import heard_slots, slots
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Score

NOTHING = Around()
PANEL = {
    "closer": 0.47,  # logarithm of the odds against it, of all ways to deal the tags about it
    "closer_race": -0.12,  # the same, where a reader stands ahead
    "margin": -0.45,  # points, up to MOST
    "before": -1.08,  # heard in the stay before too
    "late_once": 1.46,  # first heard so far into the stay, as a share of it, by a reader that says a tag about once
    "elsewhere": 1.48,  # came by not long before or after too, and did not stand there well both times
    "taker": -0.3,  # the next best assignment gives it to another stay
    "only_near": 1.14,  # not heard ahead, though a reader stands there
    "unordered": 0.88,  # heard ahead, and the order there is less sure of it than four points
    "new": -1.37,  # first heard in this stay
    "thin": 1.3,  # heard in less than THIN of the share that is usual
}
PANEL_BIAS = 0.84
"""Fitted to 53,237 pairs, 537 of them wrong (`tests/bench/sureness.py --yards 500 --after 1000`, and 200 yards more of
the row both).  Told by the weights of other yards, 7 of these are not flagged at half a percent, where 9.9 were
expected, and of the right ones 2,385 are.  Six features more (heard once, often, ahead, in the next stay, how soon, and
whether the next stay would take it) told nothing besides: without them the weights hold a little better there.
"""
LOOKED = 0.12
"""No margin makes it surer than by this share of what the closer look says: points of order add up to great margins
where a reader stands ahead.  Of 54 pairs of those yards that are flagged for it alone two were wrong."""
STRAY = 2.5
"""Percent, at least: heard once, and never by the reader ahead, as a tag in the next pen may be.  Of 118 such pairs of
those yards that were said to be wrong in no more than half a percent, three were, where 0.2 were expected."""
HAND = {"margin": -0.43, "beyond": -1.46, "away": 0.29}  # away: read outside the stay
HAND_BIAS = -1.34
ONCE = {
    "closer": 0.36,  # as of PANEL
    "unlikely": 0.44,  # logarithm of the odds against it, of all ways
    "before": -1.69,  # and below: as of PANEL
    "late_next": 2.68,  # first heard so far into the stay, and the next stay has no tag
    "soon": 0.92,
    "new": -1.76,
    "neighbours": 7.3,  # in how many stays a neighbour is heard here
}
ONCE_BIAS = -0.33
"""Fitted to 2,438 pairs, 148 of them wrong, of 600 other yards a row, and left so: fitted anew to 3,886 it would rank
them no better, and doubt every tag of a day on which each was said once, in its own stay, and nothing else was.  Of
those 3,886 pairs 5 are wrong that are not flagged at half a percent, where 3.1 were expected.
"""
SUREST = 1e-5
"""No chance of all ways is taken for less unlikely, nor one of all ways to deal."""
TURN_LEAST = 1e-3
"""The chance of all ways in which tags can have been read by hand needs no correction (readers/hand.py): of some 2,000
drawn pairs told to be wrong in 0.4 to 1 of 100 one was.  Nothing read by hand alone is said to be surer than this."""
MOST, BEND = 14.0, 6.0
LOOSE, ORDER, PLACED, STEADY = 35.0, 1.6, 0.3, 0.05
CLEARLY = 2.5
"""Percent; LOOSE where the margin is less.  In the yards that were fitted to, 30 of 84 such pairs were wrong, 11 of 707
others, none of 656 between two that were heard, and none of 4,500 of a steady lag; and none of 45 (250 yards of the
row both) beside one that was heard in this stay too, but more in its own."""
ONCE_SLOTS, THIN, OFTEN = 2.0, 0.3, 3


def wrong_percent(
    at: int,
    spans: Sequence[Span],
    passes: Sequence[Pass],
    got: Assigned,
    score: Score | None,
    models: Mapping[str, ReaderModel],
    around: Around = NOTHING,
    *,
    steady: bool,
) -> float:
    """Return the chance that the tag a stay got is not its animal's, in percent.

    `models`: of all readers of the station; `steady`: it came past ahead as long before its first foot as usual;
    `around`: what the stays beside it got, and what a closer look rests on.
    """
    assert got.tag is not None, "a tag was given"
    one = passes[got.tag]
    margin = min(got.margin, MOST)
    positions = {heard.position for heard in one.heard}
    chance = score.chance if score is not None else None
    if "platform" in positions:
        found = heard_features(at, spans, passes, got, score, models, around)
        if chance is not None:
            return _percent(ONCE_BIAS, ONCE, found)
        is_stray = bool(found["only_near"]) and len(one.near) == 1
        least = max(STRAY if is_stray else 0.0, LOOKED * _percent(0.0, {"closer": 1.0}, found))
        return max(_percent(PANEL_BIAS, PANEL, found), least)
    if chance is not None:
        return 100 * min(1.0, max(1 - chance, TURN_LEAST))
    if "hand" in positions:
        away = away_s([heard for heard in one.heard if heard.position == "hand"], spans[at]) > 0
        beyond = max(0.0, margin - BEND)
        return _percent(HAND_BIAS, HAND, {"margin": margin, "beyond": beyond, "away": float(away)})
    if steady:
        return STEADY
    return LOOSE if margin < CLEARLY else PLACED if is_between(at, spans, passes, around.given) else ORDER


def heard_features(
    at: int,
    spans: Sequence[Span],
    passes: Sequence[Pass],
    got: Assigned,
    score: Score | None,
    models: Mapping[str, ReaderModel],
    around: Around = NOTHING,
) -> dict[str, float]:
    """Return the features of a pass that was heard at the platform; the arguments are those of `wrong_percent`."""
    assert got.tag is not None, "a tag was given"
    span, one = spans[at], passes[got.tag]
    near = [heard for heard in one.heard if heard.position == "platform"]
    here = during(near, span)
    late = min(max(here[0].t - span.on, 0.0), span.length_s) / span.length_s if here else 0.0
    usual = models[near[0].link].share
    once, often = usual * slots(span) < ONCE_SLOTS, len(near) > OFTEN
    ahead = any(heard.position == "ahead" for heard in one.heard)
    sure_of_order = score.order_margin[0] if score is not None else MOST
    has_race = any(other.heard[0].position == "ahead" for other in passes)
    next_untagged = at + 1 < len(spans) and around.given.get(at + 1, NOBODY) is None
    first_s = max(0.0, here[0].t - span.on) if here else 0.0
    elsewhere = len(together(got.tag, spans, passes)) > 1
    is_close = elsewhere or got.margin < (CLOSE if often and not has_race else CLOSE_ELSE)
    is_close = is_close and span.length_s < LONG_S
    closer = _unlikely(look(at, got.tag, spans, passes, models, around) if is_close else 1.0)
    chance = score.chance if score is not None else None
    return {
        "closer": closer,
        "closer_race": closer * has_race,
        "unlikely": 0.0 if chance is None else _unlikely(chance),
        "margin": min(got.margin, MOST),
        "before": float(at > 0 and bool(during(near, spans[at - 1], slack=False))),
        "late_once": late * once,
        "elsewhere": float(elsewhere),
        "taker": float(got.taker is not None),
        "late_next": late * next_untagged,
        "only_near": float(not ahead and has_race),
        "unordered": float(ahead and sure_of_order < 4.0),
        "new": float(bool(here) and here[0] is near[0]),
        "soon": log1p(first_s / models[near[0].link].entry_s),
        "neighbours": models[near[0].link].beside,
        "thin": float(bool(here) and heard_slots(here, span) / slots(span) < THIN * usual),
    }


def is_between(at: int, spans: Sequence[Span], passes: Sequence[Pass], given: Mapping[int, int | None]) -> bool:
    """Return whether both neighbours of a stay were heard at the platform, and each in more of its own than of this."""
    return all(
        (of := given.get(beside)) is not None and _was_there(passes[of], spans[beside], spans[at])
        for beside in (at - 1, at + 1)
    )


def _was_there(one: Pass, own: Span, this: Span) -> bool:
    """Return whether a tag was heard at the platform, and if it was heard in this stay, then more in its own."""
    here = _share(one, this)
    return any(heard.position == "platform" for heard in one.heard) and (not here or _share(one, own) > here)


def _share(one: Pass, span: Span) -> float:
    """Return in how much of a stay a tag was heard at the platform or by hand."""
    return heard_slots(during(one.near, span, slack=False), span) / slots(span)


def _unlikely(chance: float) -> float:
    """Return the logarithm of the odds against."""
    unlikely = min(max(1 - chance, SUREST), 1 - SUREST)
    return log(unlikely / (1 - unlikely))


def _percent(bias: float, weights: Mapping[str, float], features: Mapping[str, float]) -> float:
    return 100 / (1 + exp(-bias - sum(weight * features[name] for name, weight in weights.items())))
