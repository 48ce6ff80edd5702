r"""Patterns that could take for ever: refused where they surely can, tried on lines made to be hard where they may.

`re` tries every way in which a pattern may divide a text among its repetitions.  Where one repetition stands within
another, as in `([0-9]+[.]?)+`, thirty digits are divided in 2**29 ways before the match is given up; where two that
may take the same stand side by side, as in `[0-9]*[0-9]*`, in as many ways as there are pairs of places.  The first
is seen from the pattern alone.  The second is measured by who holds a clock (`neckyoke.bridge.config.patterns`) on
`hard_lines`: each repetition filled to the length of the longest frame, and an end that does not fit.

A possessive repetition (`[0-9]++`) or an atomic group (`(?>…)`) gives nothing back, so there is one way only.
"""

import re
from collections.abc import Iterator, Sequence
from typing import Any, Final, TypeAlias

Parsed: TypeAlias = Sequence[tuple[Any, Any]]
"""What `re` makes of a pattern, or of a part of one: (what, its arguments)."""
MANY: Final = 16
"""Repetitions of at most so many, of one that repeats itself, are no harm: a frame's columns."""
_parser: Any = re._parser  # type: ignore[attr-defined]  # noqa: SLF001  # nothing else parses what `re` takes


def nests_repetition(pattern: re.Pattern[bytes]) -> bool:
    """Return whether a repetition of any length stands within another of any length."""
    return _nests(_parsed(pattern), inside=False)


def _parsed(pattern: re.Pattern[bytes]) -> Parsed:
    parsed: Parsed = _parser.parse(pattern.pattern, pattern.flags)
    return parsed


def _nests(parts: Parsed, *, inside: bool) -> bool:
    for what, of in parts:
        if (name := str(what)) in {"MAX_REPEAT", "MIN_REPEAT"}:
            least, most, body = of
            varies = most != least and int(most) > MANY
            if (varies and inside) or _nests(body, inside=inside or varies):
                return True
        elif name == "POSSESSIVE_REPEAT":
            if _nests(of[2], inside=False):
                return True
        elif name == "ATOMIC_GROUP":
            if _nests(of, inside=False):
                return True
        elif any(_nests(body, inside=inside) for body in _bodies(name, of)):
            return True
    return False


def _bodies(name: str, of: Any) -> Iterator[Parsed]:
    """Yield the parts within a part that is no repetition."""
    if name == "SUBPATTERN":
        yield of[3]
    elif name == "BRANCH":
        yield from of[1]
    elif name in {"ASSERT", "ASSERT_NOT"}:
        yield of[1]
    elif name == "GROUPREF_EXISTS":
        yield from filter(None, of[1:])


def hard_lines(pattern: re.Pattern[bytes], length: int) -> Iterator[bytes]:
    """Yield lines of about a length that a pattern nearly fits: each of its repetitions filled, all of them, and none.

    One line a repetition, and two; a last byte that fits nothing makes the match be given up.
    """
    parsed = _parsed(pattern)
    count = _Filler(-2, 1).repeats(parsed)
    for which in range(-1, count):
        filled = _Filler(which, length if which >= 0 else max(1, length // max(1, count)))
        line = filled.text(parsed)[:length]
        yield line + b"\x00"
        yield line[: length // 2] + line[-1:] * (length - length // 2)


class _Filler:
    """Spells a text that a pattern fits, with repetition number `which` filled `times`; -1 fills all of them."""

    def __init__(self, which: int, times: int) -> None:
        self._which, self._times = which, times
        self._seen = 0

    def repeats(self, parts: Parsed) -> int:
        """Count the repetitions."""
        self.text(parts)
        return self._seen

    def text(self, parts: Parsed) -> bytes:
        """Spell a text."""
        return b"".join(self._part(str(what), of) for what, of in parts)

    def _part(self, name: str, of: Any) -> bytes:
        if name.endswith("_REPEAT"):
            number, self._seen = self._seen, self._seen + 1
            body = self.text(of[2])
            wanted = self._times if self._which in {-1, number} else 1
            return body * max(int(of[0]), min(int(of[1]), wanted))
        if name == "ATOMIC_GROUP":
            return self.text(of)
        if name in {"LITERAL", "IN", "NOT_LITERAL", "ANY"}:
            return bytes([of & 0xFF]) if name == "LITERAL" else _one_of(name, of)
        if name in {"ASSERT", "ASSERT_NOT"}:
            return b""
        bodies = [self.text(body) for body in _bodies(name, of)]
        return bodies[-1] if bodies else b""


def _one_of(name: str, of: Any) -> bytes:
    """Return a byte that a class takes, digits first."""
    take = re.compile(_spelled_class(name, of), re.DOTALL)
    tried = (bytes([code]) for code in (*range(0x30, 0x3A), *range(0x20, 0x7F), *range(256)))
    return next((byte for byte in tried if take.fullmatch(byte)), b"0")


def _spelled_class(name: str, of: Any) -> bytes:
    """Spell a class of `re` again, byte by byte."""
    if name == "ANY":
        return b"."
    if name == "NOT_LITERAL":
        return b"[^\\x%02x]" % of
    inside, negated = b"", b""
    for what, value in of:
        kind = str(what)
        if kind == "NEGATE":
            negated = b"^"
        elif kind == "LITERAL":
            inside += b"\\x%02x" % value
        elif kind == "RANGE":
            inside += b"\\x%02x-\\x%02x" % value
        elif kind == "CATEGORY":
            inside += _CATEGORIES[str(value)]
    return b"[" + negated + inside + b"]"


_CATEGORIES: Final = {
    "CATEGORY_DIGIT": b"\\d",
    "CATEGORY_NOT_DIGIT": b"\\D",
    "CATEGORY_SPACE": b"\\s",
    "CATEGORY_NOT_SPACE": b"\\S",
    "CATEGORY_WORD": b"\\w",
    "CATEGORY_NOT_WORD": b"\\W",
}
