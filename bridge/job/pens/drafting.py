"""Which pen an animal goes to.

Rules are tried in order, the first that matches wins.  Bands are half open: `at_least` belongs to the band, `below`
does not, so an animal on the line goes up and two touching bands share nothing.  A rule without conditions is the rest.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from typing import Any

from neckyoke.bridge.job.doses.dosing import spell


@dataclass(frozen=True, slots=True)
class Band:
    """A half-open band [low, high)."""

    low: float = -inf
    high: float = inf

    def __contains__(self, number: float) -> bool:
        return self.low <= number < self.high

    def meets(self, other: "Band") -> bool:
        """Return whether the two bands share any number."""
        return max(self.low, other.low) < min(self.high, other.high)

    @property
    def everything(self) -> bool:
        """Whether the band asks for nothing."""
        return self == Band()


@dataclass(frozen=True, slots=True)
class Rule:
    """One pen and whom it takes.  `match` maps a detail or roster column to the spellings that fit.

    With `heads` it takes only so many, the heaviest of them or else the lightest: see `bridge.job.pens.heads`.
    """

    pen: str
    kg: Band = Band()
    gain: Band = Band()
    match: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    heads: int | None = None
    heaviest: bool = True

    @property
    def rest(self) -> bool:
        """Whether the rule takes every animal."""
        return self.kg.everything and self.gain.everything and not self.match and self.heads is None

    def takes(self, kg: float, gain: float | None, known: Mapping[str, Any], but: Collection[str] = ()) -> bool:
        """Return whether the rule takes an animal, whatever the columns `but` say; a gain not known is in no band."""
        by_gain = self.gain.everything or (gain is not None and gain in self.gain)
        asked = ((key, spelled) for key, spelled in self.match.items() if key not in but)
        return kg in self.kg and by_gain and all(_fits(known.get(key), spelled) for key, spelled in asked)


def plain(value: Any) -> str:
    """Spell a detail for comparison: case and spaces around it do not matter, 3 is 3.0, and true is yes."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return str(value).strip().casefold()


def _fits(value: Any, spelled: Sequence[str]) -> bool:
    several = value if isinstance(value, list | tuple) else (value,)
    return value is not None and any(plain(one) in spelled for one in several)


def pen_for(
    rules: Sequence[Rule],
    kg: float,
    gain: float | None,
    known: Mapping[str, Any],
    waits: Collection[str] = (),
    goes: Callable[[Rule], bool] = lambda _: False,
) -> str | None:
    """Name the pen of the first rule that takes the animal; None when none does, or when it cannot be told yet.

    `waits` names columns that a person still has to give: a rule that asks for one of them, and would take the animal
    but for that, may yet be the one.  `goes` says whether the animal gets one of the places of a pen by head count.
    """
    for rule in rules:
        if rule.match.keys() & waits:
            if rule.takes(kg, gain, known, but=waits):
                return None
        elif rule.takes(kg, gain, known) and (rule.heads is None or goes(rule)):
            return rule.pen
    return None


def never_reached(rules: Sequence[Rule]) -> Iterator[tuple[int, str]]:
    """Yield the place of each rule that can take no animal, since those before it take every one that it asks for.

    An animal is a weight, a gain or none known, and its details.  The bounds of all bands cut weights and gains into
    cells within which no rule changes its mind, so one look at each cell settles it.  A rule before counts in full
    where it asks for no detail, or only for what this one asks for too.
    """
    for at, rule in enumerate(rules):
        before = [one for one in rules[:at] if _asks_no_more(one, rule)]
        weights, gains = _cells(one.kg for one in rules), _cells(one.gain for one in rules)
        unknown = [None] if rule.gain.everything else []
        mine = [(kg, gain) for kg in weights if kg in rule.kg for gain in (*unknown, *gains) if _in(rule, gain)]
        if before and mine and all(any(kg in one.kg and _in(one, gain) for one in before) for kg, gain in mine):
            names = ", ".join(repr(one.pen) for one in before)
            yield at, f"no animal ever reaches pen {rule.pen!r}: {names} before it take all of them"


def _in(rule: Rule, gain: float | None) -> bool:
    return rule.gain.everything or (gain is not None and gain in rule.gain)


def _asks_no_more(first: Rule, second: Rule) -> bool:
    """Return whether whoever has the details that the second asks for also has those of the first."""
    return not first.heads and all(
        key in second.match and set(second.match[key]) <= set(spelled) for key, spelled in first.match.items()
    )


def _cells(bands: Iterable[Band]) -> list[float]:
    """Return one number of each cell into which the bounds of bands cut the line."""
    edges = sorted({edge for band in bands for edge in (band.low, band.high) if abs(edge) < inf})
    return [edges[0] - 1, *edges] if edges else [0.0]


def gaps(rules: Sequence[Rule]) -> list[str]:
    """Spell the weights that no pen is sure to take; none when there are no rules or there is a rest pen."""
    if not rules or any(rule.rest for rule in rules):
        return []
    sure = sorted(
        (rule.kg for rule in rules if rule.gain.everything and not rule.match and not rule.heads),
        key=lambda band: band.low,
    )
    found, reached = [], 0.0
    for band in sure:
        if band.low > reached:
            found.append(_span(reached, band.low))
        reached = max(reached, band.high)
    return [*found, _span(reached, inf)] if reached < inf else found


def _span(low: float, high: float) -> str:
    if low <= 0 and high == inf:
        return "every weight"
    if low <= 0:
        return f"animals below {spell(high)} kg"
    return f"animals from {spell(low)} kg up" if high == inf else f"animals from {spell(low)} to {spell(high)} kg"
