"""How likely each tag is each stay's, of all ways in which the tags can have been read.

Theory.  Stay by stay, somebody reads once, or not at all; a reader that says each tag once does the same.  What is read
then is the tag of the stay's own animal or, where a person holds the reader, now and then of one beside it; and when it
is read says of which stay it was meant.  A *way* says of every stay which of the tags is its own, if any of them, and
of every read for which stay it was meant, if for any.  It is as likely as all of that together:

    its own tag was read              it works, and was not missed; times the odds of the read, meant for this stay
    its own tag was read elsewhere    it works, and was missed, or one beside it was read in its place
    it has none of the tags           it wears none that works, or was missed, or one beside it was read in its place
    one beside it was read in place   that chance, times the odds of the read

where odds are against a read that is nobody's here; and the chance of a pair is the share of the ways that have it.
The likeliest way alone (alignment.py) says which is best, not how much of all belief it has: ten ways a little worse
each may outweigh it.  And who was read in a neighbour's place is doubted where that can be: where the one stay has no
tag of its own, and the other was not read.

The ways are summed forwards and backwards over the stays, as of a hidden Markov model (L. R. Rabiner, Proc. IEEE 77
(1989) 257; from memory).  The state is which tags the stay before and this one have, and which reads near are spoken
for.  States less likely than `UNLIKELY` of the likeliest are let go, and of the tags that a stay may have the likeliest
`MOST` are tried: of 120 stays of three drawn yards five chances were moved by that, by 0.2 % at most.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from heapq import nlargest
from typing import NamedTuple, TypeAlias

from neckyoke.bridge.station.tags.readers.alignment import Pair

AGAIN = 0.1
"""So often one whose tag was read is read again in its own stay (common practice, no source)."""
LEAST = 0.05
"""A read with no more odds is nobody's, and is not tried for the stay."""
UNLIKELY, MOST = 1e-5, 4
MOST_READS = 3
"""Of a tag's reads so many that fit a stay best are tried for it: a reader that is left on says it a thousand times."""
MOST_STATES = 300
"""And so many states of one stay: more are there only where nothing can be told anyhow."""
MOST_HOPE = 1e100
NONE = -1
"""What a stay has that has none of the tags."""


class Read(NamedTuple):
    """One read of a tag, and for each stay how many times likelier it is, when meant for that stay, than nobody's."""

    tag: int
    odds: Mapping[int, float]


class Manner(NamedTuple):
    """How stays are read, as chances: its animal has a tag that `works`; nothing is read; a neighbour, if anything."""

    works: float
    missed: float
    mistaken: float = 0.0


State: TypeAlias = tuple[int, int, int]
"""Whose tags the stay before and this one have, and a bit for each read that is spoken for."""
Spoken: TypeAlias = list[tuple[int, float]]
"""What a stay may have been read as: the bit of the read, 0 for none, and how likely that is."""


def chances(reads: Sequence[Read], stays: int, manner: Manner, may: Callable[[int, int], bool]) -> dict[Pair, float]:
    """Return the chance of each pair of a tag and a stay, both by their numbers; `may` bars pairs that cannot be."""
    if not stays:
        return {}
    ways = _Ways(_fittest(reads, stays), stays, manner, may)
    layer: dict[State, float] = {(NONE, here, 0): 1.0 for here in ways.tags(0, NONE, NONE, 0)}
    layers, steps = [layer], []
    for stay in range(stays):
        step = [(state, to, weight) for state in layer for to, weight in ways.onward(stay, state)]
        following: dict[State, float] = {}
        for state, to, weight in step:
            following[to] = following.get(to, 0.0) + layer[state] * weight
        hoped = {state: weight * ways.hope(stay, state[2]) for state, weight in following.items()}
        most = max(hoped.values())
        near = [state for state in following if hoped[state] > UNLIKELY * most]
        if len(near) > MOST_STATES:
            near = nlargest(MOST_STATES, near, key=hoped.__getitem__)
        layer = {state: following[state] / most for state in near}
        layers.append(layer)
        steps.append(step)
    back = {state: ways.left(stays - 1, state[0], state[2]) for state in layer}
    found: dict[Pair, float] = {}
    for stay in reversed(range(stays)):
        before: dict[State, float] = {}
        for state, to, weight in steps[stay]:
            if to in back:
                before[state] = before.get(state, 0.0) + weight * back[to]
        most = max(before.values())
        back = {state: weight / most for state, weight in before.items()}
        shares: dict[int, float] = {}
        for state, weight in back.items():
            shares[state[1]] = shares.get(state[1], 0.0) + weight * layers[stay][state]
        whole = sum(shares.values())
        found.update(((tag, stay), share / whole) for tag, share in shares.items() if tag >= 0)
    return found


def _fittest(reads: Sequence[Read], stays: int) -> list[Read]:
    """Return the reads that are tried, in their order: of each tag those that fit one stay best or another."""
    of: dict[int, list[int]] = {}
    for n, read in enumerate(reads):
        of.setdefault(read.tag, []).append(n)
    kept = set[int]()
    for its in of.values():
        for stay in range(stays):
            near = [n for n in its if reads[n].odds.get(stay, 0.0) > LEAST]
            kept.update(nlargest(MOST_READS, near, key=lambda n, stay=stay: reads[n].odds[stay]))  # type: ignore[misc]
    return [read for n, read in enumerate(reads) if n in kept]


class _Ways:
    """What may follow each state, and how likely."""

    def __init__(self, reads: Sequence[Read], stays: int, manner: Manner, may: Callable[[int, int], bool]) -> None:
        self._stays, self._manner = stays, manner
        self._odds = [{stay: odds for stay, odds in read.odds.items() if odds > LEAST} for read in reads]
        self._of: dict[int, list[int]] = {}
        for n, read in enumerate(reads):
            self._of.setdefault(read.tag, []).append(n)
        self._bits = {NONE: 0} | {tag: sum(1 << n for n in its) for tag, its in self._of.items()}
        until = {tag: max((stay for n in its for stay in self._odds[n]), default=-1) for tag, its in self._of.items()}
        self._open = [
            sum(self._bits[tag] for tag, last in until.items() if last + 1 >= stay) for stay in range(1, stays + 1)
        ]
        self._tags = [self._likeliest(stay, may) for stay in range(stays)]
        tried = {tag for tags in self._tags for tag in tags}
        self._odds = [odds if read.tag in tried else {} for read, odds in zip(reads, self._odds, strict=True)]
        self._hopes = [self._hopes_after(stay) for stay in range(stays)]

    def tags(self, stay: int, before: int, here: int, spoken: int) -> list[int]:
        """Return the tags that a stay may have, after those of two others, and that it may have none."""
        if stay >= self._stays:
            return [NONE]
        bits = self._bits
        return [NONE, *(tag for tag in self._tags[stay] if tag not in (before, here) and bits[tag] & ~spoken)]

    def onward(self, stay: int, state: State) -> Iterator[tuple[State, float]]:
        """Yield every state of the next stay that may follow one of this, and how likely."""
        before, here, spoken = state
        works, missed, mistaken = self._manner
        told = (1 - missed) * mistaken / 2 * (works if here >= 0 else 1.0)
        ways = [(0, works * missed + (0.0 if here >= 0 else 1 - works))]
        ways += self._read(stay, here, spoken, works * (1 - missed) * (1 - mistaken))
        ways += self._read(stay, before, spoken, told)
        if before >= 0:
            ways = [(bit, likely * self.left(stay - 1, before, spoken | bit)) for bit, likely in ways]
        left = 1.0
        for then in self.tags(stay + 1, before, here, spoken):
            beside = self._read(stay, then, spoken, told)
            if before >= 0 and beside:
                left = self.left(stay - 1, before, spoken)
            kept = self._open[stay] | self._bits[here] | self._bits[then]
            for bit, likely in [*ways, *((bit, likely * left) for bit, likely in beside)]:
                if likely:
                    yield (here, then, (spoken | bit | self._bits[before]) & kept), likely

    def hope(self, stay: int, spoken: int) -> float:
        """Return by how much the reads that were not spoken for up to a stay may yet make a way likelier, at most."""
        hope = 1.0
        for bit, odds in self._hopes[stay]:
            if not spoken & bit:
                hope *= odds
        return min(hope, MOST_HOPE)

    def left(self, stay: int, tag: int, spoken: int) -> float:
        """Return how likely the other reads of a stay's tag are: none is spoken for, it cannot be; the rest, again."""
        if tag < 0:
            return 1.0
        if not spoken & self._bits[tag]:
            return 0.0
        likely = 1.0
        for n in self._of[tag]:
            if not spoken >> n & 1:
                likely *= 1 + AGAIN * self._odds[n].get(stay, 0.0)
        return likely

    def _read(self, stay: int, tag: int, spoken: int, chance: float) -> Spoken:
        """Return the reads of a tag that may be meant for a stay, each by its bit and how likely."""
        if tag < 0 or not chance:
            return []
        near = [(n, odds) for n in self._of[tag] if not spoken >> n & 1 and (odds := self._odds[n].get(stay))]
        return [(1 << n, chance * odds) for n, odds in near]

    def _hopes_after(self, stay: int) -> Spoken:
        """Return the best odds of each read in a later stay, of those that can be of one up to this."""
        later = [
            (1 << n, max((odds for at, odds in of.items() if at > stay), default=0.0))
            for n, of in enumerate(self._odds)
            if any(at <= stay for at in of)
        ]
        return [(bit, odds) for bit, odds in later if odds > 1]

    def _likeliest(self, stay: int, may: Callable[[int, int], bool]) -> list[int]:
        """Return the tags that a stay may have, likeliest first."""
        near: dict[int, float] = {}
        for tag, its in self._of.items():
            beside = [self._odds[n].get(at, 0.0) for n in its for at in (stay - 1, stay + 1)]
            likely = max([*(self._odds[n].get(stay, 0.0) for n in its), self._manner.mistaken / 2 * max(beside)])
            if likely and may(tag, stay):
                near[tag] = likely
        return sorted(near, key=lambda tag: (-near[tag], tag))[:MOST]
