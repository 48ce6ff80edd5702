"""Finds animals of the herd book by what a person types: a number on the ear, the end of a tag, an id of their own.

The book of a whole station, 10,000 animals and more, is searched at every key: so the words that each animal goes by
are kept ready, one string an animal, and made anew only for those of whom the book says something else now.  Whole
numbers come before beginnings, those before ends of tags, those before whatever else has the letters in it.
"""

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.station.record import visual_key

APART = "\n"
AT_ONCE = 500
"""Animals made ready at one go; between two, others have their turn."""
WHOLE, BEGINS, ENDS, WITHIN = range(4)


@dataclass(slots=True)
class Finder:
    """The words of a book's animals.  `ready` makes them; `find` looks in them."""

    book: Book
    _bodies: dict[str, str] = field(default_factory=dict)
    _words: dict[str, str] = field(default_factory=dict)
    _order: list[str] = field(default_factory=list)

    def renew(self) -> Iterator[None]:
        """Take over what the book says now, so many animals at each step."""
        now = self.book.bodies()
        changed = [name for name, body in now.items() if self._bodies.get(name) is not body]
        for at in range(0, len(changed), AT_ONCE):
            for name in changed[at : at + AT_ONCE]:
                self._bodies[name], self._words[name] = now[name], _words(json.loads(now[name]))
            yield
        if changed:
            self._order = sorted(self._words, key=lambda name: in_order(self._words[name].partition(APART)[0]))

    def find(self, typed: str) -> list[str]:
        """Return the ids of the animals that fit, the best first; all of them, by their numbers, for nothing."""
        word = visual_key(typed.strip()) if typed.strip() else ""
        bare = re.sub(r"[ ._\-/]", "", word)
        fits = [(rank, name) for name in self._order if (rank := _rank(self._words[name], word, bare)) is not None]
        fits.sort(key=lambda one: one[0])  # stable: among equals the order of numbers
        return list(dict.fromkeys(self.book.root(name) for _, name in fits))


def _words(animal: dict[str, Any]) -> str:
    visuals = [visual_key(one) for one in reversed(animal["visuals"])] or [""]
    tags = [tag["id"] for tag in reversed(animal["tags"])]
    more = [str(animal[key]).casefold() for key in ("roster_id",) if animal.get(key)]
    return APART.join([*visuals, *tags, *more])


def _rank(words: str, word: str, bare: str) -> int | None:
    if not word:
        return WHOLE
    if word not in words and (not bare or bare not in words):
        return None
    each = words.split(APART)
    if word in each or bare in each:
        return WHOLE
    if any(one.startswith(word) for one in each):
        return BEGINS
    return ENDS if bare and any(one.endswith(bare) for one in each) else WITHIN


def in_order(visual: str) -> tuple[bool, list[tuple[int, str]]]:
    """Return by what numbers are put in order as a person would: 9 before 10, A2 before A10, none last."""
    parts: Iterable[str] = re.findall(r"[0-9]+|[^0-9]+", visual)
    return not visual, [(int(part), "") if part.isdecimal() and part.isascii() else (-1, part) for part in parts]
