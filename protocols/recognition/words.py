"""What stands where in a frame: the number, the unit, and which words, what they are taken to mean and how often."""

import re
from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Sequence
from typing import Final

from neckyoke.protocols.readings import Condition, WeightReading
from neckyoke.protocols.recognition.candidates import Trial
from neckyoke.protocols.recognition.finding import Part, Word
from neckyoke.protocols.scale.freeform import KNOWN_WORDS
from neckyoke.protocols.scale.layout import SPECIAL, Layout
from neckyoke.protocols.scale.status import UNIT_WORDS, Meaning

IN_ANY_PLACE: Final = "word"
"""What a word of the free-form layout is called, which has no named places."""
MOST: Final = 24

_WORD: Final = re.compile(rb"[A-Za-z]+|[?*^<>!#%&@$~]")


def find_words(trial: Trial) -> tuple[Word, ...]:
    """List the words of the frames that were read, the commonest first in each place."""
    counts: Counter[tuple[str, str]] = Counter()
    said: dict[tuple[str, str], list[WeightReading]] = defaultdict(list)
    for frame, reading in trial.frames:
        if isinstance(reading, WeightReading):
            for key in _placed(trial.layout, frame) if trial.layout else _loose(frame, reading):
                counts[key] += 1
                said[key].append(reading)
    always = set(_in_common(trial.readings))
    words = [
        Word(*key, _meaning(trial.layout, key, said[key], always), times) for key, times in counts.most_common(MOST)
    ]
    return tuple(sorted(words, key=lambda word: word.where))


def find_parts(trial: Trial) -> tuple[Part, ...]:
    """Return where number, unit and status stand in the commonest frame."""
    frame = trial.example()
    match = trial.pattern.search(frame) if trial.pattern else None
    if match is None:
        return ()
    parts = [Part(name, *match.span(name), text=(match[name] or b"").decode("latin-1")) for name in match.re.groupindex]
    return tuple(sorted((part for part in parts if part.end > part.start), key=lambda part: part.start))


def _placed(layout: Layout, frame: bytes) -> Iterator[tuple[str, str]]:
    """Yield what stands in a layout's status groups."""
    match = layout.pattern.fullmatch(frame)
    for name in layout.pattern.groupindex:
        if match and name not in SPECIAL and match[name] is not None:
            yield name, match[name].strip().decode("latin-1")


def _loose(frame: bytes, reading: WeightReading) -> set[tuple[str, str]]:
    """Return each word of a frame once, but for the unit."""
    words = {word.decode("latin-1") for word in _WORD.findall(frame)}
    return {(IN_ANY_PLACE, word) for word in words if UNIT_WORDS.get(word.lower()) != reading.unit}


def _meaning(
    layout: Layout | None, key: tuple[str, str], readings: Sequence[WeightReading], always: Collection[str]
) -> str:
    """Return what a word means: by its table, or by what all frames that have it say, and not all without it."""
    where, text = key
    if layout is None:
        known: Meaning | None = KNOWN_WORDS.get(text.upper())
    else:
        tables = (layout.tokens.get(where, {}), layout.tokens.get("", {}))
        raw = text.encode("latin-1")
        known = next((table[way] for table in tables for way in (raw, raw or b" ") if way in table), None)
    return (
        known.value
        if known
        else ", ".join(said for said in _in_common(readings) if said not in always) or Meaning.IGNORED.value
    )


def _in_common(readings: Sequence[WeightReading]) -> Iterator[str]:
    """Yield what all readings say."""
    stable = {reading.stable for reading in readings}
    if len(stable) == 1 and None not in stable:
        yield (Meaning.STABLE if True in stable else Meaning.MOVING).value
    modes = {reading.mode for reading in readings}
    yield from (mode.value for mode in modes if mode and len(modes) == 1)
    conditions = {reading.condition for reading in readings}
    yield from (condition.value for condition in conditions if condition is not Condition.OK and len(conditions) == 1)
