"""What every way of drafting a layout shares: reading numbers, choosing the weight among them, and status words.

Of several numbers in a frame one is the weight.  Numbers that stand still, count up, or jump as no weight does are set
aside.  Of those left, three that add up are gross, net and tare; two that change alike are the same weight before and
after a tare, and which of them is which only the display can tell.  Others are not guessed at.

A status text is called moving when the weight usually changes more under it, from frame to frame, than under the
steadiest text.  Words that the trade knows keep their meaning.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise, permutations
from statistics import median
from typing import Any, Final, TypeAlias

from protocols.doubts import MOVES, STILL, WILD, Doubt
from protocols.finding import Sure
from protocols.freeform import KNOWN_WORDS
from protocols.meaning import UNIT_WORDS, Meaning

ALIKE: Final = 0.6
"""Share of frames that must have the commonest shape."""
RARE: Final = 0.03
"""Share of frames below which a text is taken for damage."""
LEAST_FRAMES: Final = 20
VALUES: Final = 4
"""A weight that is heard while animals come and go shows as many values at least."""
MOST_TEXTS: Final = 8
MOST_CODES: Final = 4
"""Texts a status can have when they all are hexadecimal digits: beyond, they are a number or a check."""
TELLING: Final = 2.0
ENOUGH_STEPS: Final = 5
ALMOST_ALL: Final = 0.85
"""Share of frames in which what is always so must be so: the others are damaged."""
COUNTS: Final = 0.4
"""Share of a running number's changes that are one and the same step up.  After damaged frames it is a few at once."""
RISES: Final = 0.8
"""Share of its changes that are a step up at all: it seldom begins anew."""
AGREE: Final = 0.8
"""Share of frames in which numbers must add up."""

COMPARE: Final = Doubt(
    "The layout was drafted from what changed while listening: compare its weights with the display."
)
NO_UNIT: Final = Doubt("No unit was seen: kilograms are assumed.")
ADD_UP: Final = Doubt("Three numbers add up as gross, tare and net; gross is taken: compare with the display.")
TOLD_APART: Final = (
    "Several weights come in a frame, told apart by their words; {0} is taken: compare with the display."
)
CHANGE_ALIKE: Final = "Two numbers change alike, perhaps gross and net; the {0} is taken: compare with the display."
CHANGES_LESS: Final = "Another number changes too, though less; the {0} is taken: compare with the display."

_NUMBER: Final = re.compile(rb"[+-]? *(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")
_GROUPED: Final = re.compile(rb"[+-]? *[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]*)?")
_HEX: Final = re.compile(rb"[0-9A-Fa-f]+")

Values: TypeAlias = Sequence[float | None]


@dataclass(frozen=True, slots=True)
class Draft:
    """A drafted layout's table, what should be checked about it, and keys that may have to be added."""

    table: Mapping[str, Any]
    doubts: tuple[Doubt, ...]
    hints: tuple[str, ...] = ()


@dataclass(slots=True)
class Sketch:
    """A draft in the making."""

    pattern: str = ""
    unit: str | None = None
    tokens: dict[str, dict[str, list[str]]] = field(default_factory=dict)
    doubts: list[Doubt] = field(default_factory=lambda: [COMPARE])

    def see_unit(self, text: str) -> None:
        """Take the unit from a text that is always the same, unless there is one already.

        One letter is enough only in lower case and right behind the weight: a G is gross, a T is tare.
        """
        words = [word.lower() for word in re.findall("[A-Za-z]{2,}", text)]
        if re.search(r"\(\?P<(?:value|gross|net)>[^()]*\)(?: \*)?$", self.pattern):
            words += re.findall(r"^\s*([a-z])\b", text)
        self.unit = self.unit or next((UNIT_WORDS[word] for word in words if word in UNIT_WORDS), None)

    def next_group(self) -> str:
        """Name the next status."""
        return f"status{len(self.tokens) or ''}"

    def status(self, group: str, texts: Sequence[bytes], numbers: Values) -> None:
        """Say what each text of a status means."""
        self.tokens[group], told = tell_apart([text.strip() for text in texts], numbers)
        self.doubts += [Doubt(text) for text in told]

    def done(self, **more: object) -> Draft:
        """Make the draft."""
        table: dict[str, Any] = {"pattern": self.pattern, "unit": self.unit or "kg", **more}
        if self.tokens:
            table["tokens"] = self.tokens
        return Draft(table, (*self.doubts, *([] if self.unit else [NO_UNIT])))


@dataclass(frozen=True, slots=True)
class Choice:
    """Which numbers of a frame are looked at, each with its group's name; and what must be checked about that."""

    roles: Mapping[int, str]
    doubts: tuple[Doubt, ...] = ()

    @property
    def main(self) -> int:
        """The number that is the weight."""
        return next(at for name in ("value", "gross", "net") for at, role in self.roles.items() if role == name)


def parse(text: bytes) -> float | None:
    """Read a number with its sign and blanks; None when the text is none."""
    text = text.strip()
    if _GROUPED.fullmatch(text):
        text = text.replace(b",", b"")
    elif not _NUMBER.fullmatch(text):
        return None
    return float(text.replace(b" ", b"").replace(b",", b"."))


def is_status(texts: Sequence[bytes]) -> bool:
    """Say whether texts are few enough to be given meanings.  What is seen rarely is damage."""
    kinds = usual_texts(texts)
    most = MOST_CODES if all(_HEX.fullmatch(text) for text in kinds) else MOST_TEXTS
    return 1 < len(kinds) <= most and sum(kinds.values()) > ALMOST_ALL * len(texts)


def usual_texts(texts: Sequence[bytes]) -> dict[bytes, int]:
    """Count the texts without their blanks, those seen more than rarely."""
    counts = Counter(text.strip() for text in texts)
    return {text: times for text, times in counts.items() if times >= max(2, RARE * len(texts))}


def choose(columns: Sequence[Values], labels: Sequence[Meaning | None] = ()) -> Choice | None:
    """Choose the weight among the numbers of a frame, each given by its values in the order they came."""
    changing = [at for at, values in enumerate(columns) if len(set(values)) >= VALUES and not _counts(values)]
    changing = [at for at in changing if not _is_still(columns[at])] or changing
    calm = [at for at in changing if not _jumps(columns[at])]
    changing = calm if calm or len(changing) > 1 else changing
    if not changing:
        return None
    return (
        (_one(changing))
        or _labelled(labels, changing)
        or _adding_up(columns, changing)
        or _alike(columns, changing)
        or _ahead(columns, changing)
    )


def _one(changing: Sequence[int]) -> Choice | None:
    return Choice({changing[0]: "value"}) if len(changing) == 1 else None


def _labelled(labels: Sequence[Meaning | None], changing: Sequence[int]) -> Choice | None:
    """Go by the words in front of the numbers, if each has its own."""
    roles = {at: label.value for at, label in enumerate(labels) if label is not None}
    if len(set(roles.values())) < max(2, len(roles)) or not {*changing} <= {*roles}:
        return None
    choice = Choice(roles)
    return replace(choice, doubts=(Doubt(TOLD_APART.format(roles[choice.main])),))


def _adding_up(columns: Sequence[Values], changing: Sequence[int]) -> Choice | None:
    """Find gross, net and tare: the tare is what changes least, and is not nought throughout."""
    for gross, net in permutations(changing, 2):
        for tare in set(range(len(columns))) - {gross, net}:
            if len(set(columns[tare])) > len(set(columns[net])):
                continue
            rows = [row for row in zip(columns[gross], columns[net], columns[tare], strict=True) if None not in row]
            fine = [row for row in rows if abs(row[0] - row[1] - row[2]) < 0.01]  # type: ignore[operator]  # no None
            if len(fine) > AGREE * len(columns[gross]) and sum(bool(row[2]) for row in fine) * 2 > len(fine):
                return Choice({gross: "gross", net: "net", tare: "tare"}, (ADD_UP,))
    return None


def _alike(columns: Sequence[Values], changing: Sequence[int]) -> Choice | None:
    """Take the larger of two numbers that differ by the same in nearly every frame: nobody can weigh less gross."""
    first, second, *more = changing
    differences = [
        round(one - other, 3)
        for one, other in zip(columns[first], columns[second], strict=True)
        if one is not None and other is not None
    ]
    usual, times = Counter(differences).most_common(1)[0] if differences else (0.0, 0)
    if more or times <= AGREE * len(columns[first]):
        return None
    taken, what = (second, "second") if usual < 0 else (first, "first")
    return Choice({taken: "value"}, (Doubt(CHANGE_ALIKE.format(what), Sure.UNSURE),))


def _ahead(columns: Sequence[Values], changing: Sequence[int]) -> Choice | None:
    """Take the number with the most values, if it is far ahead."""
    ranked = sorted(changing, key=lambda at: -len(set(columns[at])))
    if len(set(columns[ranked[1]])) * 2 > len(set(columns[ranked[0]])):
        return None
    what = f"{ranked[0] + 1}. number"
    return Choice({ranked[0]: "value"}, (Doubt(CHANGES_LESS.format(what), Sure.UNSURE),))


def _is_still(values: Values) -> bool:
    return Counter(values).most_common(1)[0][1] > STILL * len(values)


def _steps(values: Values) -> list[float]:
    found = [value for value in values if value is not None]
    return [step for before, now in pairwise(found) if (step := round(now - before, 6))]


def _counts(values: Values) -> bool:
    """Say whether whole numbers rise again and again, mostly by the same step: a running number, a clock."""
    steps = _steps(values)
    whole = sum(value is not None and not value % 1 for value in values)
    if len(steps) < MOVES or whole < ALMOST_ALL * len(values):
        return False
    step, times = Counter(steps).most_common(1)[0]
    return step > 0 and times > COUNTS * len(steps) and sum(one > 0 for one in steps) > RISES * len(steps)


def _jumps(values: Values) -> bool:
    """Say whether the number usually changes by a large part of its range, as a check does and no weight."""
    moves = [abs(step) for step in _steps(values)]
    found = sorted(value for value in values if value is not None)
    edge = len(found) // 20
    return len(moves) >= MOVES and median(moves) > WILD * (found[-1 - edge] - found[edge])


def tell_apart(texts: Sequence[bytes], numbers: Values) -> tuple[dict[str, list[str]], list[str]]:
    """Say what each text of a status means: by the word it is, or by how much the weight changes under it."""
    changes: dict[bytes, list[float]] = defaultdict(list)
    for (_, before), (text, now) in pairwise(zip(texts, numbers, strict=True)):
        if before is not None and now is not None:
            changes[text].append(abs(now - before))
    known = {text: KNOWN_WORDS.get(text.decode("latin-1").upper()) for text in set(texts)}
    told = {text: median(steps) for text, steps in changes.items() if len(steps) >= ENOUGH_STEPS}
    calmest = min(told.values(), default=0.0)
    restless = [text for text, step in told.items() if step > TELLING * calmest]
    meanings: dict[str, list[str]] = {}
    doubts: list[str] = []
    for text in sorted(usual_texts(texts)):
        meaning = known[text]
        name = repr(text.decode("latin-1")) if text else "A blank"
        if meaning is None and restless and text in told:
            meaning = Meaning.MOVING if text in restless else Meaning.STABLE
            doubts.append(f"{name} seems to mean {meaning.value}: the weight's steps say so.")
        elif meaning is None:
            meaning = Meaning.IGNORED
            doubts.append(f"What {name} means did not show; it is ignored.")
        meanings.setdefault(meaning.value, []).append(text.decode("latin-1"))
    return meanings, doubts
