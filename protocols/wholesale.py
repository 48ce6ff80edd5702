"""Many frames read at once: the way of nearly all bytes, several times as fast as frame by frame, with equal outcomes.

A device says the same few words around a number that changes.  A run of frames is therefore matched by one call of
`findall`, the words are looked up in a memory, and of each frame only the number is worked on.

What a frame means is defined in one place alone, the careful path that takes a single one (`LayoutReader.decode`,
`FreeForm.decode`, `decode_tag_line`).  Here a run is read all or nothing: if one of its frames is not plain, None is
given, and the decoder tries its halves and leaves the last few frames to the careful path.  For a plain run both give
the same, because

* each frame is matched alike.  The frames are joined by line ends, and matches sought from a line's beginning to its
  end.  A pattern that `stays_in_line` takes in no line end and looks at nothing beyond what it takes, so a line has one
  match at most, the very one that `fullmatch` finds in it alone.  As many matches as frames and as lines is one each;
* the words mean the same.  The memory is filled by the careful path's own look-up, and holds for the unit in force.
  A frame that names another unit is not plain;
* the number is the same.  A plain one has digits, a sign, a point or a comma that cannot part thousands, and no gap
  within, and is converted by the operations of the careful path in their order.
"""

import operator
import re
from collections.abc import Callable, Sequence
from functools import partial
from typing import Final, NamedTuple, TypeAlias

from neckyoke.protocols.readings import Condition, Mode, Outcome, WeightReading
from neckyoke.protocols.scale.status import HEAVIEST_KG, scale

_STAYS: Final = re.compile(
    rb"(?:"
    rb"[^\0-\x1f\x7f-\xff$^(\\]"  # printable, but no anchor
    rb"|\((?!\?)|\(\?(?::|i:|P<\w+>)"  # groups, but none that looks around, refers back or changes what a dot means
    rb"|\\(?:[dwS]|[^\0-\x1f\x7f-\xff\w])"  # classes without the line end, and escaped marks
    rb")*+"
)
_NUMERIC: Final = b"0123456789.+- \n"
_MAY_BE_THOUSANDS: Final = re.compile(rb",[0-9]{3}")
_REMEMBERED: Final = 512
_reading: Final = partial(tuple.__new__, WeightReading)

Texts: TypeAlias = tuple[bytes, ...]
"""What the groups of one frame hold; empty for those that took no part."""
Find: TypeAlias = Callable[[Sequence[bytes]], list[Texts] | None]
"""Matches every frame; None if one does not."""
Proof: TypeAlias = Callable[[Sequence[Texts]], bool]
"""Says whether all frames prove themselves, given what each group holds in every frame."""


class Plain(NamedTuple):
    """What the texts beside a number make of it: it is multiplied by `times`, its text gets `prefix`.

    The rest is that of the reading.
    """

    times: float
    prefix: str
    unit: str
    stable: bool | None
    mode: Mode | None
    at_zero: bool | None
    condition: Condition


LookUp: TypeAlias = Callable[[Texts, str | None], Plain | None]
"""The careful path's look-up of the texts beside a number, under the unit in force; None if they are not plain."""


class _NotPlainError(ValueError):
    """A run holds a frame that is not plain."""


class _Memory(dict[Texts, Plain]):
    """What texts beside a number mean under one unit: looks up those that it does not know."""

    def __init__(self, look_up: LookUp, unit: str | None = None) -> None:
        super().__init__()
        self.unit = unit
        self._look_up = look_up

    def __missing__(self, beside: Texts) -> Plain:
        if len(self) >= _REMEMBERED:
            self.clear()
        plain = self._look_up(beside, self.unit)
        if plain is None or plain.unit != self.unit:  # another unit would be put in force
            raise _NotPlainError
        self[beside] = plain
        return plain


def stays_in_line(pattern: re.Pattern[bytes]) -> bool:
    """Return whether a pattern surely takes in no line end and looks at nothing beyond what it takes."""
    return pattern.flags == 0 and _STAYS.fullmatch(pattern.pattern) is not None


def at_once(pattern: bytes) -> Find:
    """Find frames by one pattern, which has a group and must stay in its line, all at once."""
    findall = re.compile(rb"(?m:^)(?:" + pattern + rb")()\n").findall  # with two groups it gives tuples, not texts

    def find(frames: Sequence[bytes]) -> list[Texts] | None:
        text = b"\n".join(frames) + b"\n"
        found: list[Texts] = findall(text)
        return found if len(found) == len(frames) == text.count(b"\n") else None

    return find


def one_by_one(pattern: re.Pattern[bytes]) -> Find:
    """Find frames by one pattern, each for itself."""
    fullmatch = re.compile(pattern.pattern + b"()", pattern.flags).fullmatch

    def find(frames: Sequence[bytes]) -> list[Texts] | None:
        found: list[Texts] = []
        for match in map(fullmatch, frames):
            if match is None:
                return None
            found.append(match.groups(b""))
        return found

    return find


class Wholesale:
    """Reads runs of weights.  `number` and `beside` are the places of the groups, from 0."""

    def __init__(
        self,
        find: Find,
        number: int,
        beside: Sequence[int],
        look_up: LookUp,
        *,
        proof: Proof | None = None,
        decimals: int = 0,
        backwards: bool = False,
    ) -> None:
        self._find = find
        self._number = number
        self._beside = tuple(beside) or (-1,)  # the empty last group
        self._look_up = look_up
        self._memory = _Memory(look_up)
        self._proof = proof
        self._shift = 10.0**decimals
        self._backwards = backwards

    def read(self, frames: Sequence[bytes], unit: str | None) -> list[Outcome] | None:
        """Read a run, column by column; None if not all of it is plain.

        `unit` is the unit in force.  Without one, that of the first frame is in force for the others.
        """
        found = self._find(frames)
        try:
            return self._read(list(zip(*found, strict=True)), unit) if found else None
        except ValueError:  # not plain, or no number for `float`
            return None

    def _read(self, columns: list[Texts], unit: str | None) -> list[Outcome]:
        """Read what the groups hold, each in all frames.  Raises ValueError for what is not plain."""
        if self._proof and not self._proof(columns):
            raise _NotPlainError
        numbers = self._numbers(columns[self._number])
        plains = self._plains(list(zip(*(columns[place] for place in self._beside), strict=True)), unit)
        times, prefixes, *rest = zip(*plains, strict=True)
        values = [float(number) / self._shift for number in numbers] if self._shift != 1.0 else map(float, numbers)
        kgs = [value * by + 0.0 for value, by in zip(values, times, strict=True)]  # never minus zero
        _, over = scale(plains[0].unit)  # all have the one in force
        if over != 1.0:
            kgs = [kg / over for kg in kgs]
        if not -HEAVIEST_KG <= min(kgs) <= max(kgs) <= HEAVIEST_KG:
            raise _NotPlainError
        texts = map(operator.add, prefixes, numbers) if any(prefixes) else numbers
        return list(map(_reading, zip(kgs, texts, *rest, strict=True)))

    def _plains(self, beside: Sequence[Texts], unit: str | None) -> list[Plain]:
        """Look up what stands beside the numbers."""
        if unit is None and (first := self._look_up(beside[0], None)):
            unit = first.unit
        if unit != self._memory.unit:
            self._memory = _Memory(self._look_up, unit)
        return [*map(self._memory.__getitem__, beside)]

    def _numbers(self, texts: Sequence[bytes]) -> list[str]:
        """Make texts of numbers as `float` reads them, one for each unless there is a line end in one."""
        joined = b"\n".join(texts)
        if b"," in joined:
            if _MAY_BE_THOUSANDS.search(joined):
                raise _NotPlainError
            joined = joined.replace(b",", b".")
        if joined.translate(None, _NUMERIC) or (self._shift != 1.0 and b"." in joined):
            raise _NotPlainError
        text = joined.decode()
        numbers = text[::-1].split("\n")[::-1] if self._backwards else text.split("\n")
        return [*map(str.strip, numbers)] if " " in text else numbers
