"""What a station learns of its visits: how long animals stand there, how soon the next one does, what they weigh.

While the box is away one animal can leave and another stand in its place.  How likely that is each station tells from
its own last visits: no limit of ours suits a yard where a steer follows every twelve seconds and one where a sheep does
every four.  Of the visits that lasted at least as long as the animal was seen, in how many would the next one have
stood there by the time the box was back, and in how many the same one still?  Where its first foot was not seen, it may
have been at any moment of its visit.  One that stands there until the box is back may be held for it: so that the same
one still does is never held to be less likely than one in five.

What else speaks is how many of the last animals could pass for it by weight.  The fewer visits are known the more is
left to a few that might be anybody's, and what was never seen is never impossible.
"""

from collections import deque
from collections.abc import Iterable
from math import log
from typing import NamedTuple

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.bridge.station.record import Record

VISITS = 20
"""Visits that a station remembers."""
FEW = 10
"""Where it remembers fewer it goes by these too:"""
ANYBODYS = ((6.0, 8.0), (8.0, 12.0), (12.0, 18.0))
"""seconds from first foot to last, and to the next one's first; a guess of ours, no source."""
QUICKEST, LIGHT, LIGHT_KG = (5.5, 6.5), (4.0, 4.5), 120.0
"""And by a quick one more; a quicker where animals weigh no more than so many kilograms, or nobody knows: sheep run
over, cattle are let on singly."""
SPREAD = 0.15
"""The next visit may be so much shorter or longer than one that is known."""
NEVER_SEEN = 0.1
"""Visits that are counted for what none of them showed."""
HELD_SHARE = 0.2
"""An animal still stands there with this chance at least: it may be held until the box is back."""
STEPPED_S = 0.5
"""What has all its feet on put the first there so long ago, at least."""
ALIKE: tuple[tuple[float, float], ...] = ((0.004, 0.03), (0.01, 0.075), (0.03, 0.22), (0.10, 0.65))
"""Of two animals of a mob whose weights have a standard deviation of 7.5 % so many are within each share of each other
(a normal distribution, two places),"""
AS_IF = 12
"""which count as so many animals beside those that were weighed."""
LOST = frozenset({Flag.INTERRUPTED, Flag.INDICATOR_LOST})
"""Nobody saw one so flagged leave,"""
CAME = frozenset({Flag.ON_AT_START, Flag.CAME_BACK})
"""nor one of these come; or it is the one before."""
WHY = "the animal still stood there when the box was back"
WHY_TOO = "the animal still stood there when the box was back again"
"""Of one whose first foot was not seen."""


class Visit(NamedTuple):
    """One animal's: seconds from its first foot to its last and to the next one's first; its weight, None if poor."""

    stay_s: float
    turn_s: float
    kg: float | None = None


class Visits:
    """The last visits of a station."""

    def __init__(self, lately: Iterable[Visit] = ()) -> None:
        self._lately = deque((one for one in lately if min(one[:2]) > 0), VISITS)

    @property
    def lately(self) -> tuple[Visit, ...]:
        """The last visits, to remember."""
        return (*self._lately,)

    def came(self, before: Record, record: Record, unseen_s: float | None) -> None:
        """Learn of a visit as the next one begins; `unseen_s`: between the first's parts, if it goes on."""
        first_foot = _first_foot(before, unseen_s)
        cut = CAME & {*record.platform_flags} or LOST & {*before.platform_flags}
        if first_foot is None or before.off is None or cut or not record.in_sight:
            return
        sure = before.weight.grade in {"good", "fair"}
        visit = Visit(before.off - first_foot, record.on - first_foot, before.weight.kg if sure else None)
        self._lately.append(Visit(round(visit.stay_s, 1), round(visit.turn_s, 1), visit.kg))

    def odds_another(
        self, seen_s: float | None, away_s: float, stays_s: float | None, stepped_s: float, kg: float | None = None
    ) -> float:
        """Return how many times likelier it is by time alone that another animal stands there than that it is the same.

        It was `seen_s` after its first foot when the box stopped, None when that was not seen.  `stays_s`: for how long
        what stands there was seen until it left, None when it was not seen to leave.  `stepped_s`: for how long it must
        have stood there before the box was back.  `kg`: what the heavier of both weighs, None when that is not known.
        """
        visits = [(one.stay_s, one.turn_s) for one in self._lately]
        if len(visits) < FEW:
            kg = kg or max((one.kg for one in self._lately if one.kg), default=0.0)
            visits += (QUICKEST if kg > LIGHT_KG else LIGHT, *ANYBODYS)
        if seen_s is None:
            meant = float(len(visits))
            another = sum(min(max(away_s - stepped_s - (turn - stay), 0.0), stay) / stay for stay, turn in visits)
            same = sum(max(stay - away_s, 0.0) / stay for stay, _ in visits)
        else:
            longer = [(1.0 - _by(stay, seen_s), stay, turn) for stay, turn in visits]
            meant = sum(share for share, *_ in longer)
            another = sum(share * _by(turn, seen_s + away_s - stepped_s) for share, _, turn in longer)
            same = sum(min(share, 1.0 - _by(stay, seen_s + away_s)) for share, stay, _ in longer)
        if stays_s is not None:  # it came, was weighed and left after the other one had
            another = min(another, meant * sum(_by(turn, away_s + stays_s) for _, turn in visits) / len(visits))
        return (another + NEVER_SEEN) / max(same + NEVER_SEEN, HELD_SHARE * (meant + NEVER_SEEN))

    def share_alike(self, kg: float, within: float) -> float:
        """Return what share of the mob weighs as much as `kg` within a share of it that `ALIKE` names."""
        known = [one.kg for one in self._lately if one.kg]
        alike = sum(abs(log(one / kg)) <= within for one in known)
        return (alike + AS_IF * dict(ALIKE)[within]) / (len(known) + AS_IF)


def came_in_sight(past: Weighing) -> bool:
    """Return whether its first foot was seen: it was not on at the start, or only in a later part of its stay."""
    return Flag.ON_AT_START not in past.flags or past.why == WHY


def _by(known_s: float, s: float) -> float:
    """Return how likely what once took `known_s` takes no more than `s`."""
    return min(max((s / known_s - 1.0 + SPREAD) / (2 * SPREAD), 0.0), 1.0)


def _first_foot(record: Record, unseen_s: float | None) -> float | None:
    """Return when its first foot was seen, None when it was not; `unseen_s`: between its parts, if it goes on."""
    past = record.resumes
    if past is None or unseen_s is None:
        return record.on if record.in_sight else None
    return record.on - unseen_s - (past.off - past.on).total_seconds() if came_in_sight(past) else None
