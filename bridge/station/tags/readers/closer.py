"""A closer look at a stay in doubt: the chance that its tag is its own, of all ways to deal the tags heard about it.

Theory.  What a reader at the platform heard of each tag, moment by moment, is so likely if its animal stood in this
stay, so likely if it stood in that one, if it is still to come, and if it stood in none (readers/presence.py); other
readers add the points that they give the pair.  Each way to deal the tags to the stay and those two before and behind
it has the product of these; a stay left empty has an animal whose tag was not heard, or one without a tag that works
(`BARE`).  The chance of a pair is the share that the ways which have it hold of all of them.

What was heard of one tag in two passes that one animal cannot have made (`together`) is taken as one: it stood in one
of the stays, waited or lingered in the other, and was silent for a whole stay between.  A reader ahead hears nearly
every animal that comes past; one that it never heard is the likelier nobody's here (race.UNHEARD), and one that it
heard the less (race.BACKED_OUT).  Of what it heard only the tag's own coming counts (race.apart): the order of them all
rests on what was heard at the platform too, which would count twice.

It takes a few milliseconds, so only stays whose margin is less than `CLOSE` are looked at, or less than `CLOSE_ELSE`
where the tag was heard seldom, or order ahead adds to margins: of 11,000 pairs of drawn yards with more points one was
wrong (the rows wide, panel and both, the first 200 yards each, even seeds).
"""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from itertools import pairwise
from math import exp, log
from typing import Protocol

from neckyoke.bridge.station.tags.readers.detections import Pass, Span, during
from neckyoke.bridge.station.tags.readers.presence import PEN, SLOT_S, Hears, roamed, stood, waited
from neckyoke.bridge.station.tags.readers.race import BACKED_OUT, UNHEARD
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel

CLOSE, CLOSE_ELSE = 8.0, 12.0
LONG_S = 200.0
"""One that stands for so long is known well enough, and it would take long to look at it."""
BARE = 0.06
ASIDE, MOST_PASSES = 2, 7
WAITS_S, LINGERS_S, ABOUT_S = 5.0, 10.0, 3.0
"""So long before the first of these stays and after the last is listened; and about the stay, who is dealt with."""
PAUSE_S = 60.0
"""After so long a pause nobody waits or lingers."""
RARELY, RARELY_S = 0.1, 60.0
SOONEST_S = 0.7
"""A reader that says fewer of the tags again than this is silent for so long; one that repeats sooner, for none."""
DEAF = 0.9
STEP = 0.125
"""What is known of a reader is taken coarsely, an eighth of a share or so: what was reckoned serves again then."""
MOST_POINTS = 100.0
AGAIN_S, WELL = 60.0, 0.5
"""Two passes of a tag no further apart are one animal's, unless it was heard through so much of a stay both times."""


class Scored(Protocol):
    """The points of a pair by name; those that a reader gives begin with its link."""

    @property
    def parts(self) -> Mapping[str, float]:
        """Return them."""

    @property
    def came(self) -> float | None:
        """Return the points for having come past readers ahead when it did, whatever the others' order says."""


@dataclass(frozen=True, slots=True)
class Around:
    """What else is known, by places: the pass that each stay got, the score of every pair, the pass a person spoke of.

    `deaf`: the stays, as (link, number), of which a reader's silence says nothing.
    """

    given: Mapping[int, int | None] = field(default_factory=dict)
    scores: Mapping[tuple[int, int], Scored] = field(default_factory=dict)
    words: Mapping[int, int | None] = field(default_factory=dict)
    deaf: AbstractSet[tuple[str, int]] = frozenset()


def look(
    at: int,
    of: int,
    spans: Sequence[Span],
    passes: Sequence[Pass],
    models: Mapping[str, ReaderModel],
    around: Around,
) -> float:
    """Return the chance that a pass is a stay's, both by their places."""
    near = _Near(at, of, spans, passes, models, around)
    ways = {frozenset[int](): 1.0}
    for other in near.others:
        more = dict(ways)
        for stay, value in near.odds(other).items():
            for taken, weight in ways.items():
                if stay not in taken:
                    more[taken | {stay}] = more.get(taken | {stay}, 0.0) + weight * value
        most = max(more.values())
        ways = {taken: weight / most for taken, weight in more.items()}
    odds = near.odds(of)
    mine: float = odds.get(at, 0.0) * sum(weight for taken, weight in ways.items() if at not in taken)
    rest: float = sum(
        weight * (1.0 + sum(value for stay, value in odds.items() if stay != at and stay not in taken))
        for taken, weight in ways.items()
    )
    return mine / (mine + rest)


def together(of: int, spans: Sequence[Span], passes: Sequence[Pass]) -> list[int]:
    """Return by its place each pass that is one with another, that one first: no animal goes round so soon.

    Heard well both times it went round again, or came on again.
    """
    again = soon_again(of, passes)
    return [of, *(at for at in again if min(_longest(passes[of], spans), _longest(passes[at], spans)) < WELL)]


def soon_again(of: int, passes: Sequence[Pass]) -> list[int]:
    """Return by its place each other pass of the same tag that is no further from it than `AGAIN_S`."""
    one = passes[of]
    return [
        at
        for at, other in enumerate(passes)
        if at != of and other.code == one.code and other.first - one.last < AGAIN_S and one.first - other.last < AGAIN_S
    ]


def _longest(one: Pass, spans: Sequence[Span]) -> float:
    """Return the largest share of a stay from the first to the last that was heard of a tag in it."""
    heard = [(span, during(one.near, span)) for span in spans]
    return max(((mine[-1].t - mine[0].t) / span.length_s for span, mine in heard if mine), default=0.0)


class _Near:
    """The stays about one, the tags heard there, and how likely each was heard so of each stay's animal."""

    def __init__(
        self,
        at: int,
        of: int,
        spans: Sequence[Span],
        passes: Sequence[Pass],
        models: Mapping[str, ReaderModel],
        around: Around,
    ) -> None:
        self._spans, self._passes, self._around = spans, passes, around
        first, last = max(0, at - ASIDE), min(len(spans) - 1, at + ASIDE)
        self._stays = [stay for stay in range(first, last + 1) if stay not in around.words or stay == at]
        self._open = last == len(spans) - 1
        self._times: dict[tuple[int, str], tuple[float, ...]] = {}
        self._start, self._end = spans[first].on - WAITS_S, spans[last].off + LINGERS_S
        links = sorted({heard.link for one in passes for heard in one.heard if heard.position == "platform"})
        self._hears = {link: hears(link, passes, models[link]) for link in links}
        self._ahead = {heard.link for one in passes for heard in one.heard if heard.position == "ahead"}
        self._joined = {of: together(of, spans, passes)}
        self._empty = {stay: log(BARE + (1 - BARE) * self._unheard(stay)) for stay in self._stays}
        start, end = spans[max(0, at - 1)].on - ABOUT_S, spans[min(len(spans) - 1, at + 1)].off + ABOUT_S
        spoken = set(around.words.values())
        often = {
            other: sum(start <= heard.t <= end for heard in one.near)
            for other, one in enumerate(passes)
            if other not in spoken and other not in self._joined[of]
        }
        chosen = [other for other, times in often.items() if times or (at, other) in around.scores]
        self.others = list[int]()
        for other in sorted(chosen, key=lambda other: -often[other])[: MOST_PASSES - 1]:
            if not any(other in joined for joined in self._joined.values()):
                self._joined[other] = together(other, spans, passes)
                self.others.append(other)

    def odds(self, of: int) -> dict[int, float]:
        """Return how many times likelier a pass is each stay's than none's, and the stay's tag unheard."""
        joined = self._joined[of]
        pairs = self._around.scores.keys() & {(stay, one) for stay in self._stays for one in joined}
        if not (pairs or any(self._passes[one].near for one in joined)):
            return {}
        none = log(PEN) + sum(roamed(self._heard(of, link), model.repeat_s) for link, model in self._hears.items())
        found = {}
        for stay in self._stays:
            points = log(1 - BARE) + self._stood(stay, of) - self._empty[stay] - none
            scores = [self._around.scores[stay, one] for one in joined if (stay, one) in pairs]
            points += sum(
                value
                for score in scores
                for name, value in score.parts.items()
                if ": " in name and name.partition(": ")[0] not in self._hears.keys() | self._ahead
            )
            found[stay] = points + self._came(of, stay, scores)
        if self._open:
            last = self._spans[-1]
            to_come = sum(waited(self._heard(of, link), last, model) for link, model in self._hears.items())
            found[len(self._spans)] = log(1 - BARE) + to_come - none
        return {stay: exp(min(points, MOST_POINTS)) for stay, points in found.items() if points > -MOST_POINTS}

    def _heard(self, of: int, link: str) -> tuple[float, ...]:
        if (of, link) not in self._times:
            heard = [one for joined in self._joined[of] for one in self._passes[joined].heard]
            times = tuple(sorted(one.t for one in heard if one.link == link and self._start <= one.t <= self._end))
            self._times[of, link] = times
        return self._times[of, link]

    def _came(self, of: int, stay: int, scores: Sequence[Scored]) -> float:
        """Return the points of a pair for having come past the readers ahead when it did, or unheard."""
        heard = {one.link for joined in self._joined[of] for one in self._passes[joined].heard} & self._ahead
        could = [link for link in self._ahead - heard if (link, self._spans[stay].number) not in self._around.deaf]
        came = [score.came for score in scores if score.came is not None]
        return (BACKED_OUT + max(came, default=-BACKED_OUT) if heard else 0.0) - UNHEARD * len(could)

    def _known(self, link: str, stay: int) -> Hears:
        deaf = (link, self._spans[stay].number) in self._around.deaf
        return self._hears[link]._replace(missed=DEAF) if deaf else self._hears[link]

    def _unheard(self, stay: int) -> float:
        """Return how likely no reader at the platform hears the animal of a stay, a chance."""
        return exp(self._stood(stay, None))

    def _stood(self, stay: int, of: int | None) -> float:
        """Return how likely a pass (None: nothing) was heard so of the animal of a stay, as a natural logarithm."""
        own = self._spans[stay]
        before = self._spans[stay - 1] if stay and own.on - self._spans[stay - 1].off < PAUSE_S else None
        after = self._spans[stay + 1] if stay + 1 < len(self._spans) else None
        after = after if after is not None and after.on - own.off < PAUSE_S else None
        heard = {link: self._heard(of, link) if of is not None else () for link in self._hears}
        return sum(stood(heard[link], before, own, after, self._known(link, stay)) for link in self._hears)


def hears(link: str, passes: Sequence[Pass], model: ReaderModel) -> Hears:
    """Return how a reader at the platform hears, by what was learned of it and what it said of late."""
    times = [[heard.t for heard in one.heard if heard.link == link] for one in passes]
    apart = sorted(after - before for one in times for before, after in pairwise(one))
    soonest = apart[len(apart) // 20] if len(apart) >= RARELY * sum(1 for one in times if one) and apart else RARELY_S
    repeat_s = min(soonest, RARELY_S) if soonest > SOONEST_S else 0.0
    if repeat_s == RARELY_S:
        entry_s = model.once.entry_s if model.once.known else model.entry_s
        share = 1 - exp(-SLOT_S / max(entry_s, SLOT_S))
    elif repeat_s:
        share = 1 - exp(-SLOT_S / max(1 / model.share - repeat_s, SLOT_S / 2))
    else:
        share = 1 - (1 - model.share) ** 0.8
    beside, missed = min(max(model.beside, 0.05), 0.5), max(model.missed, 0.02)
    coarse = exp(round(log(share) / STEP) * STEP)
    return Hears(round(coarse, 3), round(2 * repeat_s) / 2, round(20 * beside) / 20, round(50 * missed) / 50)
