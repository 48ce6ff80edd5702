"""What every way of drafting a layout shares: reading numbers, seeing the unit, telling status words apart.

A status text is called moving when the weight changes more under it, from frame to frame, than under the steadiest
text: both usually and in most pairs of frames.  Words that the trade knows keep their meaning.
"""

import re
from bisect import bisect_left, bisect_right
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import fmean, median
from typing import Any, Final, TypeAlias

from neckyoke.protocols.recognition.doubts import Doubt
from neckyoke.protocols.scale.freeform import KNOWN_WORDS
from neckyoke.protocols.scale.status import UNIT_WORDS, Meaning

ALIKE: Final = 0.6
"""Share of frames that must have the commonest shape."""
RARE: Final = 0.03
"""Share of frames below which a text is taken for damage."""
LEAST_FRAMES: Final = 20
MOST_TEXTS: Final = 8
MOST_CODES: Final = 4
"""Texts a status can have when they all are hexadecimal digits: beyond, they are a number or a check."""
TELLING: Final = 2.0
LARGER: Final = 0.7
"""Share of the pairs of a step under either text in which the moving one's is larger; of two that are alike, half.

A median alone may differ by chance, where the platform stands empty half of the time and the usual step is nought.
"""
ENOUGH_STEPS: Final = 5
ALMOST_ALL: Final = 0.85
"""Share of frames in which what is always so must be so: the others are damaged."""

COMPARE: Final = Doubt(
    "The layout was drafted from what changed while listening: compare its weights with the display."
)
NO_UNIT: Final = Doubt("No unit was seen: kilograms are assumed.")

_NUMBER: Final = re.compile(rb"[+-]? *(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")
_GROUPED: Final = re.compile(rb"[+-]? *[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]*)?")
_WEIGHT: Final = re.compile(r"\(\?P<(?:value|gross|net)>")
_JUST_THE_WEIGHT: Final = re.compile(_WEIGHT.pattern + r"[^P]*\)(?: \*|\[ \\t\]\*)?$")
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
    units: dict[bool, str] = field(default_factory=dict)
    tokens: dict[str, dict[str, list[str]]] = field(default_factory=dict)
    doubts: list[Doubt] = field(default_factory=lambda: [COMPARE])

    def see_unit(self, text: str) -> None:
        """Take a unit from a text that is always the same, the first in front of the weight and the first behind it.

        One letter is enough only in lower case and right behind the weight: a G is gross, a T is tare.
        """
        behind = bool(_WEIGHT.search(self.pattern))
        words = [word.lower() for word in re.findall("[A-Za-z]{2,}", text)]
        if _JUST_THE_WEIGHT.search(self.pattern):
            words += re.findall(r"^\s*([a-z])\b", text)
        for word in words:
            if word in UNIT_WORDS:
                self.units.setdefault(behind, UNIT_WORDS[word])

    def next_group(self) -> str:
        """Name the next status."""
        return f"status{len(self.tokens) or ''}"

    def status(self, group: str, texts: Sequence[bytes], numbers: Values) -> None:
        """Take down what each text of a status means."""
        self.tokens[group], told = tell_apart([text.strip() for text in texts], numbers)
        self.doubts += [Doubt(text) for text in told]

    def done(self, **more: object) -> Draft:
        """Make the draft."""
        unit = self.units.get(True) or self.units.get(False)
        table: dict[str, Any] = {"pattern": self.pattern, "unit": unit or "kg", **more}
        if self.tokens:
            table["tokens"] = self.tokens
        return Draft(table, (*self.doubts, *([] if unit else [NO_UNIT])))


def parse(text: bytes) -> float | None:
    """Read a number with its sign and blanks; None when the text is none."""
    text = text.strip()
    if _GROUPED.fullmatch(text):
        text = text.replace(b",", b"")
    elif not _NUMBER.fullmatch(text):
        return None
    return float(text.replace(b" ", b"").replace(b",", b"."))


def is_status(texts: Sequence[bytes]) -> bool:
    """Return whether texts are few enough to be given meanings.  What is seen rarely is damage."""
    kinds = usual_texts(texts)
    most = MOST_CODES if all(_HEX.fullmatch(text) for text in kinds) else MOST_TEXTS
    return 1 < len(kinds) <= most and sum(kinds.values()) > ALMOST_ALL * len(texts)


def usual_texts(texts: Sequence[bytes]) -> dict[bytes, int]:
    """Count the texts without their blanks, those seen more than rarely."""
    counts = Counter(text.strip() for text in texts)
    return {text: times for text, times in counts.items() if times >= max(2, RARE * len(texts))}


def tell_apart(texts: Sequence[bytes], numbers: Values) -> tuple[dict[str, list[str]], list[str]]:
    """Return what each text of a status means: by the word it is, or by how much the weight changes under it."""
    changes: dict[bytes, list[float]] = defaultdict(list)
    for (_, before), (text, now) in pairwise(zip(texts, numbers, strict=True)):
        if before is not None and now is not None:
            changes[text].append(abs(now - before))
    known = {text: KNOWN_WORDS.get(text.decode("latin-1").upper()) for text in set(texts)}
    told = {text: median(steps) for text, steps in changes.items() if len(steps) >= ENOUGH_STEPS}
    calmest = min(told, key=told.__getitem__, default=b"")
    restless = [
        text
        for text, step in told.items()
        if step > TELLING * told[calmest] and _larger(changes[text], changes[calmest]) > LARGER
    ]
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


def _larger(steps: Sequence[float], others: Sequence[float]) -> float:
    """Return in what share of all pairs the first is larger: Mann and Whitney's U over the number of pairs."""
    ordered = sorted(others)
    return fmean(bisect_left(ordered, step) + bisect_right(ordered, step) for step in steps) / (2 * len(ordered))
