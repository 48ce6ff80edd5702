"""The herd book: the animals known, a fold of `neckyoke.animal` events, asked by tag, visual number or id.

Of each animal the highest revision counts, so the fold may be done in any order and with repeats.  An animal merged
into another is asked for by either id, and answered as one: what both had, the elder's word before the other's.

The box holds the book of a whole station in memory, 20,000 animals if need be, so that the sign never waits for a card:
animals are kept as they are spelled and read when they are asked for.
"""

import hashlib
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from functools import lru_cache

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.job.doses.withholding import longest
from neckyoke.bridge.station.record import visual_key

LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)
READ_KEPT = 1024
NO_DIGEST = "0" * 16


@lru_cache(maxsize=READ_KEPT)
def _read(body: str) -> Animal:
    return Animal.model_validate_json(body)


class Book:
    """The animals known.  `digest` tells two books apart, whatever order their animals became known in."""

    def __init__(self, bodies: Iterable[str] = ()) -> None:
        self._bodies: dict[str, str] = {}
        self._of_tag: dict[str, tuple[str, ...]] = {}
        self._of_visual: dict[str, tuple[str, ...]] = {}
        self._members: dict[str, tuple[str, ...]] = {}
        self._into: dict[str, str] = {}
        self._on_paper: dict[str, None] = {}
        self._digest = 0
        for body in bodies:
            self.fold(Animal.model_validate_json(body))

    def __len__(self) -> int:
        return len(self._bodies)

    @property
    def digest(self) -> str:
        """Sixteen hex digits; the same for the same animals."""
        return f"{self._digest:016x}"

    def fold(self, animal: Animal) -> bool:
        """Take an animal as an event says it; return whether that is news."""
        before = self.get(animal.animal)
        if before is not None and before.revision >= animal.revision:
            return False
        body = animal.model_dump_json()
        if before is not None:
            self._digest ^= _hash(self._bodies[animal.animal])
            self._index(before, add=False)
        self._bodies[animal.animal] = body
        self._digest ^= _hash(body)
        self._index(animal, add=True)
        self._on_paper.pop(animal.animal, None)
        if animal.withheld_until:
            self._on_paper[animal.animal] = None
        return True

    def _index(self, animal: Animal, *, add: bool) -> None:
        change = _with if add else _without
        for tag in {worn.id for worn in animal.tags}:
            change(self._of_tag, tag, animal.animal)
        for visual in {visual_key(one) for one in animal.visuals}:
            change(self._of_visual, visual, animal.animal)
        if animal.merged_into is not None:
            change(self._members, animal.merged_into, animal.animal)
        if animal.merged_into is not None and add:
            self._into[animal.animal] = animal.merged_into
        else:
            self._into.pop(animal.animal, None)

    # -- one animal ----------------------------------------------------------------------------------------------

    def get(self, animal: str) -> Animal | None:
        """Return an animal as its own last event said it, merged into another or not."""
        body = self._bodies.get(animal)
        return None if body is None else _read(body)

    def root(self, animal: str) -> str:
        """Return the id of the animal that this one turned out to be; its own when it was never merged."""
        seen = {animal}
        while (into := self._into.get(animal)) is not None and into not in seen:
            animal = into
            seen.add(animal)
        return animal

    def group(self, animal: str) -> tuple[str, ...]:
        """Return all ids of one beast: the one it goes by first, then those merged into it."""
        found = [self.root(animal)]
        for one in found:
            found += [member for member in sorted(self._members.get(one, ())) if member not in found]
        return tuple(found)

    def members(self, root: str) -> tuple[str, ...]:
        """Return the ids of those merged into the one that they all go by."""
        return self.group(root)[1:] if root in self._members else ()

    def find(self, animal: str) -> Animal | None:
        """Return all that is known of a beast by any of its ids."""
        group = [one for name in self.group(animal) if (one := self.get(name)) is not None]
        return None if not group else group[0] if len(group) == 1 else _joined(group)

    def by_tag(self, tag: str, at: datetime | None = None) -> Animal | None:
        """Find the beast that wears a tag; failing that, the one that wore it last.  With `at`: that wore it then."""
        own = self.own_by_tag(tag, at)
        return None if own is None else self.find(own)

    def own_by_tag(self, tag: str, at: datetime | None = None) -> str | None:
        """Return the id that such a beast has by itself, whatever it was merged into."""
        best: tuple[bool, bool, datetime, bool, str] | None = None
        for name in self._of_tag.get(tag, ()):
            one = self.get(name)
            for worn in one.tags if one else ():
                if one is not None and worn.id == tag:
                    since, then = worn.since or LONG_AGO, at is not None and _worn_at(worn, at)
                    place = (then, worn.until is None, since, one.merged_into is None, name)
                    best = place if best is None or place > best else best
        return None if best is None else best[-1]

    def by_visual(self, visual: str) -> list[Animal]:
        """Find the beasts with a visual number; failing that, those that had it.  Case and zeros do not matter."""
        key = visual_key(visual)
        roots = dict.fromkeys(self.root(name) for name in self._of_visual.get(key, ()))
        found = [one for name in roots if (one := self.find(name)) is not None]
        have = [one for one in found if one.visual is not None and visual_key(one.visual) == key]
        return have or found

    def own_by_visual(self, visual: str, root: str) -> str:
        """Return the id that the beast called so has by itself, of all that are one with it."""
        key = visual_key(visual)
        return next((name for name in self._of_visual.get(key, ()) if self.root(name) == root), root)

    # -- all of them ---------------------------------------------------------------------------------------------

    def __iter__(self) -> Iterator[Animal]:
        """Yield every beast once, as it is known now, in the order in which they became known."""
        for name, body in self._bodies.items():
            one = _read.__wrapped__(body)
            if one.merged_into is None and not one.is_nobody:
                yield self.find(name) or one if name in self._members else one

    def on_paper(self) -> Iterator[Animal]:
        """Yield the beasts that a roster said are withheld."""
        return (one for root in dict.fromkeys(map(self.root, self._on_paper)) if (one := self.find(root)) is not None)

    def bodies(self) -> dict[str, str]:
        """Return every animal by id as its last event said it, spelled."""
        return dict(self._bodies)


def _hash(body: str) -> int:
    return int.from_bytes(hashlib.sha256(body.encode()).digest()[:8], "big")


def _with(index: dict[str, tuple[str, ...]], key: str, animal: str) -> None:
    names = index.get(key, ())
    if animal not in names:
        index[key] = (*names, animal)


def _without(index: dict[str, tuple[str, ...]], key: str, animal: str) -> None:
    names = tuple(name for name in index.get(key, ()) if name != animal)
    if names:
        index[key] = names
    else:
        index.pop(key, None)


def _worn_at(worn: WornTag, at: datetime) -> bool:
    return (worn.since or LONG_AGO) <= at and (worn.until is None or at < worn.until)


def _joined(group: list[Animal]) -> Animal:
    """Make one of several: the first one's word counts, the others fill its gaps; it wears the tag it got last."""
    first = group[0]
    tags = sorted(dict.fromkeys(tag for one in group for tag in one.tags), key=lambda tag: tag.since or LONG_AGO)
    worn = [tag for tag in tags if tag.until is None]
    gone = [tag.model_copy(update={"until": worn[-1].since}) if tag in worn[:-1] else tag for tag in tags]
    visuals = [visual for one in reversed(group) for visual in one.visuals]
    lasting = {key: value for one in reversed(group) for key, value in one.lasting.items()}
    return first.model_copy(
        update={
            "tags": tuple(gone),
            "visuals": tuple(dict.fromkeys(reversed(visuals)))[::-1],
            "lasting": lasting,
            "marks": tuple(dict.fromkeys(mark for one in group for mark in one.marks)),
            "withheld_until": longest(one.withheld_until for one in group),
            **{
                name: next((value for one in group if (value := getattr(one, name)) is not None), None)
                for name in ("roster_id", "born", "sex", "dam", "mob")
            },
        }
    )
