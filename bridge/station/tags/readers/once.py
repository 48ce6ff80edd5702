"""A reader at the platform that says each tag once: what it says is a turn, like a read by hand.

Theory.  Some readers report a tag when it comes into reach, and not again while it stays: of an animal that waits
behind the platform it says the tag too early, and is silent when that one steps on.  How much of a stay it hears tells
nothing then; but each tag is said once, in the order in which the animals come.  So all ways in which they can have
been said are added up (chances.py), each tag by when it was first heard:

    during the stay    those neither early nor late; soon after stepping on, exponentially about `entry_s`, but `LATE`
                       of them at any moment
    before, after      those that waited or lingered, as reads by hand that were early or late (habit.py)

A reader is taken for one that says tags once when no more than `SELDOM` of passes were heard again; until then, and
where order is told by other readers too, panel.py has the word.
"""

from collections.abc import Callable, Mapping, Sequence
from math import exp
from types import MappingProxyType

from neckyoke.bridge.station.tags.readers.alignment import Pair
from neckyoke.bridge.station.tags.readers.chances import Manner, Read, chances
from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.readers.habit import follow, reach

STRAY = 1e-4
"""Tags a second that are said of an animal that stands nowhere here, of each that was said at all."""
WAITS_S, LINGERS_S = 40.0, 20.0
"""What was first heard longer before a stay, or after it, is not meant for it."""
SLACK_S = 0.5
"""A head may be in front of the panel so long before the feet weigh, and after they have left."""
LATE = 0.05
SELDOM = 0.06
SLOPE, FAR = 0.25, 0.05
"""How far off it is said beside the mean (readers/habit.py)."""
GUESSED, SLIPS, KEPT, KEPT_SLIPS = 10.0, 3.0, 60.0, 40.0
"""The first guess counts as so many stays, and as so many early and late; what a stay taught counts as long as these
last."""
MOST_EARLY_S, MOST_LATE_S, ENTRY_S = 20.0, 10.0, (0.3, 8.0)
"""Bounds of the mean times."""
QUICKLY = 0.05


class Once:
    """How a reader says tags: shares of passes heard again, of tags early and late, of stays unsaid; mean seconds."""

    def __init__(self, kept: Mapping[str, float] = MappingProxyType({})) -> None:
        """Begin with what an earlier run kept."""
        self.again = kept.get("again", 0.5)
        self.early = kept.get("said_early", 0.25)
        self.late = kept.get("said_late", 0.03)
        self.unsaid = kept.get("unsaid", 0.15)
        self.early_s = kept.get("said_early_s", 8.0)
        self.late_s = kept.get("said_late_s", 3.0)
        self.entry_s = kept.get("said_entry_s", 2.5)
        self._passes = 1.0
        self._stays = self._said = GUESSED
        self._early = self._late = SLIPS

    @property
    def kept(self) -> dict[str, float]:
        """What is worth keeping for the next run."""
        return {
            "again": self.again,
            "said_early": self.early,
            "said_late": self.late,
            "unsaid": self.unsaid,
            "said_early_s": self.early_s,
            "said_late_s": self.late_s,
            "said_entry_s": self.entry_s,
        }

    @property
    def known(self) -> bool:
        """Whether it says each tag once."""
        return self.again <= SELDOM

    def learn_again(self, *, again: bool) -> None:
        """Learn from one stay whether its tag was heard more than once."""
        self._passes = min(self._passes + 1, KEPT)
        self.again += (again - self.again) / self._passes

    def learn_turn(self, likely: Sequence[tuple[float, float]], span: Span) -> None:
        """Learn from one final stay: the chance of each tag to be its own, and when that was first heard."""
        self._stays = min(self._stays + 1, KEPT)
        self.unsaid = follow(self.unsaid, 1 - sum(chance for chance, _ in likely), self._stays)
        for chance, t in likely:
            before_s, after_s = span.on - t, t - span.off
            is_early, is_late = before_s > SLACK_S, after_s > SLACK_S
            self._said = min(self._said + chance, KEPT)
            weight = chance / self._said
            self.early = follow(self.early, is_early, 1 / weight)
            self.late = follow(self.late, is_late, 1 / weight)
            if is_early:
                self._early = min(self._early + chance, KEPT_SLIPS)
                self.early_s += chance * (min(before_s, MOST_EARLY_S) - self.early_s) / self._early
            elif is_late:
                self._late = min(self._late + chance, KEPT_SLIPS)
                self.late_s += chance * (min(after_s, MOST_LATE_S) - self.late_s) / self._late
            else:
                least, most = ENTRY_S
                self.entry_s += QUICKLY * chance * (min(max(SLACK_S - before_s, least), most) - self.entry_s)

    def density(self, t: float, span: Span) -> float:
        """Return how dense what is said of a stay's own tag is at a moment, in tags a second."""
        if t < span.on - SLACK_S:
            return self.early * reach(span.on - t, self.early_s, SLOPE, FAR)
        if t > span.off + SLACK_S:
            return self.late * reach(t - span.off, self.late_s, SLOPE, FAR)
        soon = exp(-(t - span.on + SLACK_S) / self.entry_s) / self.entry_s
        return (1 - self.early - self.late) * ((1 - LATE) * soon + LATE / (span.length_s + 2 * SLACK_S))


def in_turn(
    tags: Sequence[Sequence[Detection]], spans: Sequence[Span], once: Once, may: Callable[[int, int], bool]
) -> dict[Pair, float]:
    """Return how likely each tag, in the order in which they were first heard, is each stay's, of all ways."""
    reads = [
        Read(
            tag,
            {
                stay: once.density(t, span) / STRAY
                for stay, span in enumerate(spans)
                if (t := detections[0].t) - span.on >= -WAITS_S and t - span.off <= LINGERS_S
            },
        )
        for tag, detections in enumerate(tags)
    ]
    return chances(reads, len(spans), Manner(works=1.0, missed=once.unsaid), may)
