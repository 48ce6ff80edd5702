"""What is learned of a reader while it works: readers differ widely, and mostly nobody says beforehand."""

from collections.abc import Mapping
from types import MappingProxyType

from neckyoke.bridge.station.settings import MOST_PLACES
from neckyoke.bridge.station.tags.readers.habit import Habit
from neckyoke.bridge.station.tags.readers.lag import Lag
from neckyoke.bridge.station.tags.readers.once import Once

KNOWN, FADES = 7.0, 0.98
"""From so many pairs on, the places are known; what a pair taught fades with each later one."""
ANY = 0.1
"""What each place more costs while nothing is known of them."""


class ReaderModel:
    """What is learned of one reader.

    `share`: in how much of a stay one at the platform hears the animal that stands.  `missed`: in how many stays it
    hears nothing of it.  `entry_s`: how many seconds after stepping on it first hears it.  `beside`: in how many it
    hears a neighbour too.  `slips`: how often one in the hand reads too early or too late.  `usual`: how many stays
    before its own an animal comes past one ahead, None while not known.  `lag`: how many seconds before.  `habit`: how
    a person reads with one in the hand.  `once`: how
    one at the platform says each tag once.  `single_file`: somebody said that one animal fits before the platform.
    """

    def __init__(self, places: int | None = None, kept: Mapping[str, float] = MappingProxyType({})) -> None:
        """Begin with what was `kept` of an earlier run; a person's word on the places goes before."""
        self.share = kept.get("share", 0.3)
        self.beside = kept.get("beside", 0.15)
        self.missed = kept.get("missed", 0.05)
        self.entry_s = kept.get("entry_s", 4.0)
        self.slips = kept.get("slips", 0.1)
        self.lag = Lag(kept)
        self.habit = Habit(kept)
        self.once = Once(kept)
        self.single_file = places == 1
        places = places or int(kept.get("places", 0)) or None
        self._came = [0.0] * (MOST_PLACES + 1)  # how many pairs came so many stays before their own
        if places is not None:
            self._came[places] = 1 / (1 - FADES)  # as sure as pairs can make it

    @property
    def kept(self) -> dict[str, float]:
        """What is worth keeping for the next run."""
        known = {
            "share": self.share,
            "beside": self.beside,
            "missed": self.missed,
            "slips": self.slips,
            "entry_s": self.entry_s,
            **self.habit.kept,
            **self.once.kept,
        }
        places = {"places": self.usual} if self.usual is not None else {}
        return {name: round(value, 3) for name, value in known.items()} | places | self.lag.kept

    @property
    def usual(self) -> int | None:
        """The number of stays that most pairs came before their own."""
        known = sum(self._came) >= KNOWN
        return max(range(1, MOST_PLACES + 1), key=self._came.__getitem__) if known else None

    def places(self) -> dict[int, float]:
        """Return the numbers of places there may be, and what it costs to believe in each.

        Once known there is one: some animals that hang back look like a place less, and must not shift all that follow.
        """
        usual = self.usual
        return {usual: 0.0} if usual is not None else {n: ANY * n for n in range(1, MOST_PLACES + 1)}

    def learn_share(self, share: float) -> None:
        """Learn from one clear pair."""
        self.share += 0.1 * (min(0.95, max(0.03, share)) - self.share)

    def learn_entry(self, after_s: float) -> None:
        """Learn from one clear pair how long after stepping on its tag was first heard."""
        self.entry_s += 0.1 * (min(10.0, max(0.3, after_s)) - self.entry_s)

    def learn_beside(self, *, others: bool) -> None:
        """Learn from one stay: whether another tag than its own was heard in it."""
        self.beside += 0.05 * ((0.6 if others else 0.02) - self.beside)

    def learn_missed(self, *, missed: bool) -> None:
        """Learn from one final stay: whether it was left without a tag.  Half of those had none that works."""
        self.missed += 0.03 * ((0.5 if missed else 0.02) - self.missed)

    def learn_slip(self, *, slipped: bool) -> None:
        """Learn from one final pair."""
        self.slips += 0.03 * ((0.8 if slipped else 0.01) - self.slips)

    def learn_queue(self, stays: int) -> None:
        """Learn from one final pair how many stays before its own it came."""
        self._came = [FADES * seen for seen in self._came]
        self._came[min(stays, MOST_PLACES)] += 1.0
