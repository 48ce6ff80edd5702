"""Finds animals of the herd book by what a person types: a number on the ear, the end of a tag, an id of their own.

The book of a whole station, 10,000 animals and more, is searched at every key, on a box that has better to do: so the
words that each animal goes by are kept ready, in the order in which they are shown, and made anew only for those of
whom the book says something else now.  Whole numbers come before beginnings, those before ends of tags, those before
whatever else has the letters in it.
"""

import json
import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Any, TypeAlias

from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.station.record import visual_key

APART = "\n"
AT_ONCE = 500
"""Animals made ready at one go; between two, others have their turn."""
Key: TypeAlias = tuple[str, int]
"""By what an animal is put in order: its number as a person counts, then when it became known.

A text and a number hold nothing more, so that the collector forgets them: with lists in them, 10,000 animals were
30,000 things to look through, 2 ms at every full collection (CPython 3.11).
"""


@dataclass(slots=True)
class Finder:
    """The words of a book's animals, each word between two breaks.  `renew` makes them; `find` looks in them.

    Keys, names and texts are three columns of one table in the order in which animals are shown: what changes while
    animals are weighed is put in its place, and a search walks one list of strings.
    """

    book: Book
    _digest: str = ""
    _bodies: dict[str, str] = field(default_factory=dict)
    _key_of: dict[str, Key] = field(default_factory=dict)
    _text_of: dict[str, str] = field(default_factory=dict)
    _in_place: bool = False  # whether the columns are what the two above say
    _keys: list[Key] = field(default_factory=list)
    _names: list[str] = field(default_factory=list)
    _texts: list[str] = field(default_factory=list)
    _merged: set[str] = field(default_factory=set)
    _root_of: dict[str, str] = field(default_factory=dict)
    _before: tuple[str, Sequence[int]] = ("", ())  # what was looked for last, and where it stands

    def renew(self) -> Iterator[None]:
        """Take over what the book says now, so many animals at each step."""
        digest = self.book.digest
        if digest == self._digest:
            return
        now = self.book.bodies()
        changed = [name for name, body in now.items() if self._bodies.get(name) is not body]
        if len(changed) > AT_ONCE or not self._in_place:
            yield from self._all_anew(now, changed)
        else:
            for name in changed:
                self._replace(name, now[name])
        self._root_of = {name: self.book.root(name) for name in self._merged}
        self._before = "", ()
        self._digest = digest

    def _all_anew(self, now: dict[str, str], changed: list[str]) -> Iterator[None]:
        self._in_place = False
        for at in range(0, len(changed), AT_ONCE):
            for name in changed[at : at + AT_ONCE]:
                self._read(name, now[name])
            yield
        self._names = sorted(self._text_of, key=self._key_of.__getitem__)
        self._keys = [self._key_of[name] for name in self._names]
        self._texts = [self._text_of[name] for name in self._names]
        self._in_place = True

    def _replace(self, name: str, body: str) -> None:
        columns: tuple[list[Any], ...] = (self._keys, self._names, self._texts)
        if (key := self._key_of.get(name)) is not None:
            at = bisect_left(self._keys, key)
            for column in columns:
                del column[at]
        self._read(name, body)
        at = bisect_left(self._keys, self._key_of[name])
        for column, value in zip(columns, (self._key_of[name], name, self._text_of[name]), strict=True):
            column.insert(at, value)

    def _read(self, name: str, body: str) -> None:
        """Take over what is said of one animal."""
        animal = json.loads(body)
        self._bodies[name], self._text_of[name] = body, _words(animal)
        became_known = self._key_of[name][1] if name in self._key_of else len(self._key_of)
        self._key_of[name] = in_order(self._text_of[name].split(APART, 2)[1]), became_known
        (self._merged.add if animal["merged_into"] else self._merged.discard)(name)

    def find(self, typed: str, start: int = 0, most: int | None = None) -> tuple[list[str], int]:
        """Return the ids of the animals that fit, the best first, and how many fit; all, by number, for nothing typed.

        `start` and `most` cut a page out of them: what stands behind it is counted, and never put in order.
        """
        word = visual_key(typed.strip()) if typed.strip() else ""
        bare = re.sub(r"[ ._\-/]", "", word) or word
        fits = self._fits(word, bare)
        if self._merged:
            names = list(dict.fromkeys(self._root_of.get(name, name) for name in self._ranked(fits, word, bare)))
            return names[start:][:most], len(names)
        return list(islice(self._ranked(fits, word, bare), start, None if most is None else start + most)), len(fits)

    def _fits(self, word: str, bare: str) -> Sequence[int]:
        """Return where the animals stand that have it; a letter more is looked for among those who had the others."""
        texts, (before, had) = self._texts, self._before
        among = had if before and before in word and before in bare else range(len(texts))
        if word == bare:
            fits = [at for at in among if word in texts[at]]
        else:
            fits = [at for at in among if word in texts[at] or bare in texts[at]]
        self._before = word, fits
        return fits

    def _ranked(self, fits: Sequence[int], word: str, bare: str) -> Iterator[str]:
        """Yield whole words, beginnings, ends, and whatever has it; each rank is looked for when its turn comes."""
        texts, names, left = self._texts, self._names, fits
        ways = (f"{APART}{word}{APART}", f"{APART}{bare}{APART}", f"{APART}{word}", f"{bare}{APART}")
        for way in dict.fromkeys(ways) if word else ():
            any_has_it = False
            for at in left:
                if way in texts[at]:
                    any_has_it = True
                    yield names[at]
            if any_has_it:
                left = [at for at in left if way not in texts[at]]
        yield from (names[at] for at in left)


def _words(animal: dict[str, Any]) -> str:
    visuals = [visual_key(one) for one in reversed(animal["visuals"])] or [""]
    tags = [tag["id"] for tag in reversed(animal["tags"])]
    more = [str(animal[key]).casefold() for key in ("roster_id",) if animal.get(key)]
    return APART.join(["", *visuals, *tags, *more, ""])


def in_order(visual: str) -> str:
    """Spell a number so that texts stand in a person's order: 9 before 10, A2 before A10, letters first, none last."""
    parts: Iterable[str] = re.findall(r"[0-9]+|[^0-9]+", visual)
    figures = (part.lstrip("0") if part.isdecimal() and part.isascii() else None for part in parts)
    spelled = (
        f"0{part}\0" if figure is None else f"1{len(figure):02d}{figure}"
        for part, figure in zip(parts, figures, strict=True)
    )
    return "".join(["0" if visual else "1", *spelled])
