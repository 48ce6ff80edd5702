"""Which of a frame's numbers is the weight.

Numbers that stand still, count up, or jump as no weight does are set aside.  Of those left, each with a word of its own
are what the words say; three that add up are gross, net and tare; two that change alike are the same weight before and
after a tare, and which of them is which only the display can tell.  Others are not guessed at.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, permutations
from statistics import median
from typing import Final

from neckyoke.protocols.recognition.doubts import MOVES, STILL, WILD, Doubt
from neckyoke.protocols.recognition.drafting.sketch import ALMOST_ALL, Values
from neckyoke.protocols.recognition.finding import Sure
from neckyoke.protocols.scale.status import Meaning

VALUES: Final = 4
"""A weight that is heard while animals come and go shows as many values at least."""
COUNTS: Final = 0.4
"""Share of a running number's changes that are one and the same step up.  After damaged frames it is a few at once."""
RISES: Final = 0.8
"""Share of its changes that are a step up at all: it seldom begins anew."""
AGREE: Final = 0.8
"""Share of frames in which numbers must add up."""

ADD_UP: Final = Doubt("Three numbers add up as gross, tare and net; gross is taken: compare with the display.")
TOLD_APART: Final = (
    "Several weights come in a frame, told apart by their words; {0} is taken: compare with the display."
)
CHANGE_ALIKE: Final = "Two numbers change alike, perhaps gross and net; the {0} is taken: compare with the display."
CHANGES_LESS: Final = "Another number changes too, though less; the {0} is taken: compare with the display."


@dataclass(frozen=True, slots=True)
class Roles:
    """Which numbers of a frame are looked at, each with its group's name; and what must be checked about that."""

    roles: Mapping[int, str]
    doubts: tuple[Doubt, ...] = ()

    @property
    def main(self) -> int:
        """The number that is the weight."""
        return next(at for name in ("value", "gross", "net") for at, role in self.roles.items() if role == name)


def find_roles(columns: Sequence[Values], labels: Sequence[Meaning | None] = ()) -> Roles | None:
    """Choose the weight among the numbers of a frame, each given by its values in the order they came."""
    changing = [at for at, values in enumerate(columns) if len(set(values)) >= VALUES and not _counts(values)]
    changing = [at for at in changing if not _is_still(columns[at])] or changing
    calm = [at for at in changing if not _jumps(columns[at])]
    changing = calm if calm or len(changing) > 1 else changing
    if not changing:
        return None
    return (
        _one(changing)
        or _labelled(labels, changing)
        or _adding_up(columns, changing)
        or _alike(columns, changing)
        or _ahead(columns, changing)
    )


def _one(changing: Sequence[int]) -> Roles | None:
    return Roles({changing[0]: "value"}) if len(changing) == 1 else None


def _labelled(labels: Sequence[Meaning | None], changing: Sequence[int]) -> Roles | None:
    """Go by the words in front of the numbers, if each has its own."""
    roles = {at: label.value for at, label in enumerate(labels) if label is not None}
    if len(set(roles.values())) < max(2, len(roles)) or not {*changing} <= {*roles}:
        return None
    choice = Roles(roles)
    if choice.main not in changing:
        return None
    return replace(choice, doubts=(Doubt(TOLD_APART.format(roles[choice.main])),))


def _adding_up(columns: Sequence[Values], changing: Sequence[int]) -> Roles | None:
    """Find gross, net and tare: the tare is what changes least, and is not nought throughout."""
    for gross, net in permutations(changing, 2):
        for tare in set(range(len(columns))) - {gross, net}:
            if len(set(columns[tare])) > len(set(columns[net])):
                continue
            rows = [row for row in zip(columns[gross], columns[net], columns[tare], strict=True) if None not in row]
            fine = [row for row in rows if abs(row[0] - row[1] - row[2]) < 0.01]  # type: ignore[operator]  # no None
            if len(fine) > AGREE * len(columns[gross]) and sum(bool(row[2]) for row in fine) * 2 > len(fine):
                return Roles({gross: "gross", net: "net", tare: "tare"}, (ADD_UP,))
    return None


def _alike(columns: Sequence[Values], changing: Sequence[int]) -> Roles | None:
    """Take the larger of two numbers that differ by the same in nearly every frame: nobody can weigh less gross."""
    first, second, *more = changing
    differences = [
        round(one - other, 3)
        for one, other in zip(columns[first], columns[second], strict=True)
        if one is not None and other is not None
    ]
    if more or not differences:
        return None
    usual, times = Counter(differences).most_common(1)[0]
    if times <= AGREE * len(columns[first]):
        return None
    taken, what = (second, "second") if usual < 0 else (first, "first")
    return Roles({taken: "value"}, (Doubt(CHANGE_ALIKE.format(what), Sure.UNSURE),))


def _ahead(columns: Sequence[Values], changing: Sequence[int]) -> Roles | None:
    """Take the number with the most values, if it is far ahead."""
    ranked = sorted(changing, key=lambda at: -len(set(columns[at])))
    if len(set(columns[ranked[1]])) * 2 > len(set(columns[ranked[0]])):
        return None
    what = f"{ranked[0] + 1}. number"
    return Roles({ranked[0]: "value"}, (Doubt(CHANGES_LESS.format(what), Sure.UNSURE),))


def _is_still(values: Values) -> bool:
    return Counter(values).most_common(1)[0][1] > STILL * len(values)


def _steps(values: Values) -> list[float]:
    found = [value for value in values if value is not None]
    return [step for before, now in pairwise(found) if (step := round(now - before, 6))]


def _counts(values: Values) -> bool:
    """Return whether whole numbers rise again and again, mostly by the same step: a running number, a clock."""
    steps = _steps(values)
    whole = sum(value is not None and not value % 1 for value in values)
    if len(steps) < MOVES or whole < ALMOST_ALL * len(values):
        return False
    step, times = Counter(steps).most_common(1)[0]
    return step > 0 and times > COUNTS * len(steps) and sum(one > 0 for one in steps) > RISES * len(steps)


def _jumps(values: Values) -> bool:
    """Return whether the number usually changes by a large part of its range, as a check does and no weight."""
    moves = [abs(step) for step in _steps(values)]
    found = sorted(value for value in values if value is not None)
    edge = len(found) // 20
    return len(moves) >= MOVES and median(moves) > WILD * (found[-1 - edge] - found[edge])
