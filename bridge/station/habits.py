"""What is learned of a reader while it works: nobody says it beforehand, and readers differ widely."""

from collections import Counter, deque


class Habits:
    """The habits of one reader.

    `share`: in how much of a stay one at the platform hears the animal that stands.  `missed`: in how many stays it
    hears nothing of it.  `beside`: in how many it hears a neighbour too.  `queue`: how many stays before its own an
    animal comes past one ahead, None while not known.  `slips`: how often one in the hand reads too early or too late.
    """

    def __init__(self) -> None:
        self.share = 0.3
        self.beside = 0.15
        self.missed = 0.05
        self.slips = 0.1
        self._lags: deque[int] = deque(maxlen=12)

    @property
    def queue(self) -> int | None:
        """The length that the queue has had most of the time."""
        return max(Counter(self._lags).items(), key=lambda one: (one[1], one[0]))[0] if len(self._lags) >= 5 else None

    def learn_share(self, share: float) -> None:
        """Learn from one clear pair."""
        self.share += 0.1 * (min(0.95, max(0.03, share)) - self.share)

    def learn_beside(self, *, others: bool) -> None:
        """Learn from one stay: whether another tag than its own was heard in it."""
        self.beside += 0.05 * ((0.6 if others else 0.02) - self.beside)

    def learn_missed(self, *, missed: bool) -> None:
        """Learn from one final stay: whether it was left without a tag.  Half of those had none that works."""
        self.missed += 0.03 * ((0.5 if missed else 0.02) - self.missed)

    def learn_slip(self, *, slipped: bool) -> None:
        """Learn from one final pair."""
        self.slips += 0.03 * ((0.8 if slipped else 0.01) - self.slips)

    def learn_queue(self, lag: int) -> None:
        """Learn from one final pair."""
        self._lags.append(lag)
