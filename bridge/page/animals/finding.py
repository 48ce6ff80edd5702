"""Finds animals of the herd book by what a person types: a number on the ear, the end of a tag, an id of their own.

The book of a whole station, 10,000 animals and more, is searched at every key, on a box that has better to do: so the
words that each animal goes by are kept ready, in the order in which they are shown, and made anew only for those of
whom the book says something else now.  Whole numbers come before beginnings, those before ends of tags, those before
whatever else has the letters in it.
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


@dataclass(slots=True)
class Finder:
    """The words of a book's animals, each word between two breaks.  `renew` makes them; `find` looks in them."""

    book: Book
    _digest: str = ""
    _bodies: dict[str, str] = field(default_factory=dict)
    _words: dict[str, str] = field(default_factory=dict)
    _order: list[tuple[str, str]] = field(default_factory=list)  # the words, and the id of whom they are called now

    def renew(self) -> Iterator[None]:
        """Take over what the book says now, so many animals at each step."""
        digest = self.book.digest
        if digest == self._digest:
            return
        now = self.book.bodies()
        changed = [name for name, body in now.items() if self._bodies.get(name) is not body]
        for at in range(0, len(changed), AT_ONCE):
            for name in changed[at : at + AT_ONCE]:
                self._bodies[name], self._words[name] = now[name], _words(json.loads(now[name]))
            yield
        order = sorted(self._words, key=lambda name: in_order(self._words[name].split(APART, 2)[1]))
        self._order = [(self._words[name], self.book.root(name)) for name in order]
        self._digest = digest

    def find(self, typed: str) -> list[str]:
        """Return the ids of the animals that fit, the best first; all of them, by their numbers, for nothing."""
        word = visual_key(typed.strip()) if typed.strip() else ""
        bare = re.sub(r"[ ._\-/]", "", word)
        if not word:
            return list(dict.fromkeys(name for _, name in self._order))
        fits = [one for one in self._order if word in one[0] or (bare and bare in one[0])]
        ranks: tuple[list[str], ...] = ([], [], [], [])
        whole, begins = f"{APART}{word}{APART}", f"{APART}{word}"
        whole_bare, ends = f"{APART}{bare}{APART}", f"{bare}{APART}"
        for words, name in fits:
            if whole in words or whole_bare in words:
                ranks[0].append(name)
            elif begins in words:
                ranks[1].append(name)
            else:
                ranks[2 if bare and ends in words else 3].append(name)
        return list(dict.fromkeys(name for rank in ranks for name in rank))


def _words(animal: dict[str, Any]) -> str:
    visuals = [visual_key(one) for one in reversed(animal["visuals"])] or [""]
    tags = [tag["id"] for tag in reversed(animal["tags"])]
    more = [str(animal[key]).casefold() for key in ("roster_id",) if animal.get(key)]
    return APART.join(["", *visuals, *tags, *more, ""])


def in_order(visual: str) -> tuple[bool, list[tuple[int, str]]]:
    """Return by what numbers are put in order as a person would: 9 before 10, A2 before A10, none last."""
    parts: Iterable[str] = re.findall(r"[0-9]+|[^0-9]+", visual)
    return not visual, [(int(part), "") if part.isdecimal() and part.isascii() else (-1, part) for part in parts]
