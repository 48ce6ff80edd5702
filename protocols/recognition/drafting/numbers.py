"""A layout drafted by cutting frames at their numbers: for frames whose fields have no fixed columns.

    G 412.5 kg N 400.5 kg T 12.0 kg      1;412.5;kg;1      {"w":412.5,"u":"kg","s":1}

Each frame is taken as texts and numbers in turn; what is between two numbers is compared word by word over all frames.
Words that are always the same are literal, the others are a status, as are small whole numbers that change.  What parts
them is blanks, and tabs where the frames have any.
"""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import Final

from neckyoke.protocols.recognition.doubts import Doubt
from neckyoke.protocols.recognition.drafting.sketch import (
    ALMOST_ALL,
    LEAST_FRAMES,
    RARE,
    Draft,
    Sketch,
    is_status,
    parse,
    usual_texts,
)
from neckyoke.protocols.recognition.drafting.weight_choice import Roles, find_roles
from neckyoke.protocols.scale.freeform import KNOWN_WORDS
from neckyoke.protocols.scale.status import UNIT_WORDS, Meaning

MOST_NUMBERS: Final = 12
LEFT: Final = 0.35
"""Share of the frames that must be left when the odd ones are put aside: of long frames damage leaves few."""

_GROUPED: Final = r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?(?![0-9])"
_PLAIN: Final = r"[0-9]+(?:[.,][0-9]+)?|\.[0-9]+"
_LISTED: Final = r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+"
_TOUCHING: Final = re.compile(rb"(?:[0-9]+\.)?[0-9]+(?:,[0-9]+)+(?:\.[0-9]+)?")
_WORD: Final = re.compile(rb"[A-Za-z]+|[^A-Za-z\s]")
_SIGN: Final = "(?<![-+])[-+]"
"""One of several dashes is no sign: they are a word."""
_SPELLED: Final = f"(?:{_SIGN})? *[0-9.,]+"
_SPELLED_LISTED: Final = f"(?:{_SIGN})? *[0-9.]+"
_WEIGHTS: Final = frozenset({Meaning.GROSS, Meaning.NET, Meaning.TARE})


@dataclass(frozen=True, slots=True)
class _Cut:
    """A frame cut at its numbers: one text more than there are numbers."""

    texts: tuple[tuple[bytes, ...], ...]
    numbers: tuple[bytes, ...]
    frame: bytes


def parts_thousands(frames: Sequence[bytes]) -> bool:
    """Return whether commas part thousands: three digits behind each, and numbers below a thousand go without."""
    touching = [text for frame in frames for text in _TOUCHING.findall(frame)]
    having = sum(bool(_TOUCHING.search(frame)) for frame in frames)
    grouped = sum(bool(re.fullmatch(_GROUPED.encode(), text)) for text in touching)
    return grouped > ALMOST_ALL * len(touching) and having < (1 - RARE) * len(frames)


def induce_numbers(frames: Sequence[bytes]) -> Draft | None:
    """Draft a layout from frames in the order they came; None when they do not show which number is the weight."""
    if len(frames) < LEAST_FRAMES:
        return None
    number = _number(frames)
    cuts = _alike([_cut(frame, number) for frame in frames])
    if len(cuts) < LEFT * len(frames):
        return None
    columns = [[parse(cut.numbers[at]) for cut in cuts] for at in range(len(cuts[0].numbers))]
    choice = find_roles(columns, [_label([cut.texts[at] for cut in cuts]) for at in range(len(columns))])
    return _draft(cuts, columns, choice) if choice else None


def _number(frames: Sequence[bytes]) -> re.Pattern[bytes]:
    """Return what a number looks like here: what its comma is."""
    shape = f"{_GROUPED}|{_PLAIN}" if parts_thousands(frames) else _LISTED if _are_listed(frames) else _PLAIN
    return re.compile(rb"(?:" + _SIGN.encode() + rb" *)?(?:" + shape.encode() + rb")")


def _are_listed(frames: Sequence[bytes]) -> bool:
    """Return whether commas part numbers: there is a decimal point, or a comma too many."""
    touching = [text for frame in frames for text in _TOUCHING.findall(frame)]
    listed = sum(b"." in text or text.count(b",") > 1 for text in touching)
    return listed > (1 - ALMOST_ALL) * len(touching) and not parts_thousands(frames)


def _cut(frame: bytes, number: re.Pattern[bytes]) -> _Cut:
    texts = tuple(tuple(_WORD.findall(text)) for text in number.split(frame))
    return _Cut(texts, tuple(number.findall(frame)), frame)


def _alike(cuts: Sequence[_Cut]) -> list[_Cut]:
    """Keep the cuts with the commonest number of numbers, and between these no text of another kind of frame."""
    count = Counter(len(cut.numbers) for cut in cuts).most_common(1)[0][0]
    if not 1 <= count <= MOST_NUMBERS:
        return []
    cuts = [cut for cut in cuts if len(cut.numbers) == count]
    fine = [_of_one_kind([cut.texts[at] for cut in cuts]) for at in range(count + 1)]
    return [cut for cut in cuts if all(text in fine[at] for at, text in enumerate(cut.texts))]


def _of_one_kind(texts: Sequence[tuple[bytes, ...]]) -> set[tuple[bytes, ...]]:
    """Return the texts that are not seen rarely, have nearly as many words as most, and the unit if most have it."""
    seen = Counter(texts)
    words = Counter(map(len, texts)).most_common(1)[0][0]
    with_unit = sum(map(_has_unit, texts)) * 2 > len(texts)
    least = max(2, RARE * len(texts))
    return {
        text
        for text, times in seen.items()
        if times >= least and abs(len(text) - words) <= 1 and (_has_unit(text) or not with_unit)
    }


def _has_unit(words: tuple[bytes, ...]) -> bool:
    return any(word.decode("latin-1").lower() in UNIT_WORDS for word in words)


def _label(texts: Sequence[tuple[bytes, ...]]) -> Meaning | None:
    """Take the word in front of a number, if it is always the same and says which weight this is."""
    last = {next((word for word in reversed(words) if word.isalpha()), b"") for words in texts}
    meaning = KNOWN_WORDS.get(last.pop().decode("latin-1").upper()) if len(last) == 1 else None
    return meaning if meaning in _WEIGHTS else None


def _draft(cuts: Sequence[_Cut], columns: Sequence[Sequence[float | None]], choice: Roles) -> Draft | None:
    sketch = Sketch()
    sketch.doubts += choice.doubts
    weights = columns[choice.main]
    groups: list[str] = []
    blank = r"[ \t]" if any(b"\t" in cut.frame for cut in cuts) else " "
    spelled = _SPELLED_LISTED if _are_listed([cut.frame for cut in cuts]) else _SPELLED
    for at in range(len(columns) + 1):
        signed = at - 1 == choice.main and 0 < sum(cut.texts[at][:1] == (b"-",) for cut in cuts) < len(cuts)
        sketch.pattern += f"{blank}*(?P<sign>-?)" * signed
        text = _text(sketch, [_unsigned(cut.texts[at], signed=signed) for cut in cuts], groups, blank)
        apart = 0 < at < len(columns) and text == f"{blank}*" and not _signs_part(cuts, at)
        sketch.pattern += f"{blank}+" if apart else text
        if at < len(columns):
            role = choice.roles.get(at)
            sketch.pattern += (
                f"(?P<{role}>{spelled})"
                if role
                else _beside(sketch, [cut.numbers[at] for cut in cuts], groups) or spelled
            )
    shape = re.compile(sketch.pattern.encode("latin-1"))
    found = [(match, kg) for cut, kg in zip(cuts, weights, strict=True) if (match := shape.fullmatch(cut.frame))]
    if len(found) < ALMOST_ALL * len(cuts):
        return None
    for group in groups:
        sketch.status(group, [match[group] for match, _ in found], [kg for _, kg in found])
    more = {} if choice.roles[choice.main] != "net" else {"take": "net"}
    return sketch.done(**more)


def _unsigned(words: tuple[bytes, ...], *, signed: bool) -> tuple[bytes, ...]:
    return words[1:] if signed and words[:1] == (b"-",) else words


def _signs_part(cuts: Sequence[_Cut], at: int) -> bool:
    """Return whether a number's sign, rather than a blank, tells it from the number before."""
    return any(cut.numbers[at][:1] in b"+-" and cut.numbers[at - 1] + cut.numbers[at] in cut.frame for cut in cuts)


def _text(sketch: Sketch, texts: Sequence[tuple[bytes, ...]], groups: list[str], blank: str) -> str:
    """Spell what stands between two numbers: the words common to all frames, and what differs between those."""
    kinds = sorted(set(texts))
    shortest = min(map(len, kinds))
    ahead = sum(1 for _ in takewhile(_same, zip(*kinds, strict=False)))
    behind = sum(1 for _ in takewhile(_same, zip(*(kind[::-1] for kind in kinds), strict=False)))
    behind = min(behind, shortest - ahead)
    first = kinds[0]
    middles = [kind[ahead : len(kind) - behind] for kind in kinds]
    words = [
        *_literal(sketch, first[:ahead]),
        *_differing(middles, groups, blank),
        *_literal(sketch, first[len(first) - behind :]),
    ]
    return f"{blank}*" + "".join(f"{word}{blank}*" for word in words)


def _same(words: tuple[bytes, ...]) -> bool:
    return len(set(words)) == 1


def _literal(sketch: Sketch, words: Sequence[bytes]) -> Iterator[str]:
    sketch.see_unit(b" ".join(words).decode("latin-1"))
    for word in words:
        yield re.escape(word.decode("latin-1"))


def _differing(middles: Sequence[tuple[bytes, ...]], groups: list[str], blank: str) -> Iterator[str]:
    """Spell the words that differ: each a status where they are equally many, otherwise all of them one."""
    if not any(middles):
        return
    if len({len(middle) for middle in middles}) > 1:
        yield _group(groups, "[^0-9]*?")
        return
    for words in zip(*middles, strict=True):
        if len(set(words)) == 1:
            yield re.escape(words[0].decode("latin-1"))
        else:
            letters = all(word.isalpha() for word in words)
            yield _group(groups, "[A-Za-z]+" if letters else f"[^0-9{blank.strip('[]')}]+?")


def _group(groups: list[str], shape: str) -> str:
    groups.append(f"status{len(groups) or ''}")
    return f"(?P<{groups[-1]}>{shape})"


def _beside(sketch: Sketch, texts: Sequence[bytes], groups: list[str]) -> str:
    """Spell a number that is no weight, if it is a status; nothing if it is passed over."""
    shown = sorted(usual_texts(texts)) or sorted(set(texts))
    quoted = shown[0].decode("latin-1")
    if len(shown) == 1:
        sketch.doubts.append(Doubt(f"{quoted!r} stood still; whatever stands there is not looked at."))
    elif is_status(texts) and all(text.isdigit() for text in shown):
        return _group(groups, "[0-9]+")
    else:
        sketch.doubts.append(Doubt(f"{quoted!r} and what else stands there is taken for no weight and passed over."))
    return ""
