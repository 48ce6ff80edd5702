"""Which animal a stay was, by the tag heard and the visual number that a person read; or what to ask.

    tag        visual number              then
    unknown    none                       a new animal; asked, while a withheld one of the mob has not come today
    known      none, its own, or its first   that animal
    none       of one animal              that animal
    none       of nobody                  a new animal
    unknown    of nobody                  a new animal
    unknown    of one that wears no tag   that animal: it wears this tag now
    unknown    of one that wears another  asked: is this its new tag?
    known      of another, or another     asked: which of the two, or a new number
    any        of several                 asked: which of them; unless the tag tells

An open question changes nothing but a flag: the stay counts for its tag's animal, as if no number had been read; and so
does every later stay of an animal that became known by a stay that is still asked about.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.events import Flag, Settled, Weighing, make_id, spell_time
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.change import named, retagged
from neckyoke.bridge.herd.questions import APART, NEW, Asked, Effect, Questions
from neckyoke.bridge.station.record import visual_key

NO_ANIMAL = frozenset({Flag.NOT_ANIMAL, Flag.ODD_CODE})
MOST_CHOICES = 8
YES, NO, A_NEW_ONE, ALL_NEW = "yes", "no", "a new animal", "all new today"


@dataclass(frozen=True, slots=True)
class Found:
    """Whom a stay was.  `who` is as it would be after it: with the tag or number that it takes from here.

    `new`: it is not in the book yet.  `ask`: what a person must say first; `doubtful`: they have not, or said no.
    """

    who: Animal | None = None
    new: bool = False
    ask: Asked | None = None
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class Stay:
    """What tells one stay's animal.  `listed` is the visual number that the roster has for its tag."""

    weighing: str
    station: str
    on: datetime
    tag: str | None
    visual: str | None
    listed: str | None = None

    @classmethod
    def of(cls, data: Settled | Weighing, listed: str | None = None) -> "Stay":
        """Take it from an event: a code that is no animal's tells nothing."""
        tag = data.tag.id if data.tag and not NO_ANIMAL & {*data.flags} else None
        visual = (data.animal or {}).get("visual")
        return cls(data.weighing, data.station, data.on, tag, str(visual) if visual else None, listed)


def label(animal: Animal) -> str:
    """Call an animal by what a person reads on it."""
    tag = f"tag …{animal.tag[-6:]}" if animal.tag else "no tag"
    return f"{animal.visual} ({tag})" if animal.visual else tag if animal.tag else animal.animal[:8]


def effect(do: str, **words: str) -> Effect:
    """Make what a choice does."""
    return {"do": do, **words}


@dataclass(slots=True)
class Identifier:
    """Tells which animal a stay was.  `suspects`: the withheld animals of the mob that have not come today."""

    site: str
    book: Book
    questions: Questions
    pending: Mapping[str, Animal]
    """Animals that would be made when their weighing is final, by tag."""
    held_for: Callable[[], Mapping[str, str]] = dict
    """The animals of recent weighings, by weighing."""

    def find(self, stay: Stay, suspects: Callable[[], Sequence[Animal]] = tuple) -> Found:
        """Find the line of the table."""
        owner = self.book.by_tag(stay.tag) if stay.tag else None
        if owner is None and stay.tag is not None:
            owner = self.pending.get(stay.tag)
        fresh = owner is None or owner.first == stay.weighing
        visual = stay.visual or (stay.listed if fresh else None)
        having = self._having(visual)
        if stay.tag is None:
            return self._by_number(stay, having)
        if visual is None:
            return self._by_tag(stay, owner, suspects)
        if owner is not None:
            return self._both_known(stay, owner, visual, having)
        if not having:
            return Found(self._made(stay, visual), new=True)
        if len(having) == 1 and having[0].tag is None:
            return Found(retagged(having[0], stay.tag, stay.on))
        return self._asked(stay, Found(self._made(stay, None), new=True), *self._new_tag(stay, having))

    def _having(self, visual: str | None) -> list[Animal]:
        """Find who has a visual number, those not made yet among them."""
        if visual is None:
            return []
        found = self.book.by_visual(visual)
        waiting = (one for one in self.pending.values() if one.visual and visual_key(one.visual) == visual_key(visual))
        known = {one.animal for one in found}
        return [*found, *(one for one in waiting if one.animal not in known)]

    def _made(self, stay: Stay, visual: str | None) -> Animal:
        """Make an animal of a stay: another than the one it made before, where that goes on without this stay."""
        name = make_id(self.site, "animal", stay.weighing)
        known = self.book.get(name)
        worn = {tag.id for tag in known.tags} if known is not None else set()
        others = {animal for weighing, animal in self.held_for().items() if weighing != stay.weighing}
        if (worn and stay.tag not in worn) or name in others:
            name = make_id(self.site, "animal", stay.weighing, stay.tag or "", visual or "")
        return Animal(
            animal=name,
            tags=(WornTag(id=stay.tag, since=stay.on),) if stay.tag else (),
            visuals=(visual,) if visual else (),
            first=stay.weighing,
        )

    def _by_number(self, stay: Stay, having: list[Animal]) -> Found:
        if stay.visual is None:
            return Found()
        if not having:
            return Found(self._made(stay, stay.visual), new=True)
        if len(having) == 1:
            return Found(having[0])
        choices = {label(one): effect("is", animal=one.animal) for one in having[:MOST_CHOICES]}
        text = f"{len(having)} animals have the number {stay.visual}.  Which is this?"
        return self._asked(stay, Found(), "which", text, choices | {A_NEW_ONE: effect("make")})

    def _by_tag(self, stay: Stay, owner: Animal | None, suspects: Callable[[], Sequence[Animal]]) -> Found:
        if owner is not None and owner.first != stay.weighing:
            waits = any(one.weighing == owner.first for one in self.questions.open())
            return Found(owner, new=self.book.get(owner.animal) is None, doubtful=waits)
        found = Found(owner or self._made(stay, None), new=owner is None or self.book.get(owner.animal) is None)
        others = suspects()
        if not others or stay.tag is None:
            return found
        choices = {label(one): self._retag(one, stay) for one in others[:MOST_CHOICES]}
        more = f", the first {MOST_CHOICES} of them here" if len(others) > MOST_CHOICES else ""
        text = (
            f"Tag …{stay.tag[-6:]} is new here, and {len(others)} withheld have not come today{more}.  "
            "Is it the new tag of one of them?"
        )
        return self._asked(stay, found, "new", text, {**choices, A_NEW_ONE: NEW, ALL_NEW: effect("all-new")})

    def _both_known(self, stay: Stay, owner: Animal, visual: str, having: list[Animal]) -> Found:
        new = self.book.get(owner.animal) is None
        key = visual_key(visual)
        if any(visual_key(one) == key for one in owner.visuals):
            return Found(owner, new=new)
        others = [one for one in having if one.animal != owner.animal]
        if owner.visual is None and not others:
            return Found(named(owner, visual), new=new)
        if owner.visual is None:
            return self._asked(stay, Found(owner, new=new), *self._new_tag(stay, others))
        assert stay.tag is not None, "its owner was found by it"
        choices = {f"{owner.visual} as before": NEW, f"{visual} is its new number": self._name(owner, visual)}
        choices |= {f"{label(one)}, which wears it now": self._retag(one, stay) for one in others[:MOST_CHOICES]}
        text = f"Tag …{stay.tag[-6:]} is {owner.visual}'s, and {visual} was read.  Which is this?"
        return self._asked(stay, Found(owner, new=new), "number", text, choices)

    def _retag(self, one: Animal, stay: Stay) -> Effect:
        return effect("retag", animal=one.animal, tag=stay.tag or "", at=spell_time(stay.on))

    def _name(self, owner: Animal, visual: str) -> Effect:
        return effect("name", animal=owner.animal, visual=visual)

    def _new_tag(self, stay: Stay, having: Sequence[Animal]) -> tuple[str, str, dict[str, Effect]]:
        """Put the question whether a tag is the new one of an animal, of one or of several by its number."""
        assert stay.tag is not None, "it is about a tag"
        tag, visual = stay.tag, having[0].visual
        if len(having) == 1 and having[0].tag is not None:
            text = f"{visual} had tag …{having[0].tag[-6:]}.  Is …{tag[-6:]} its new tag?"
            return "tag", text, {YES: self._retag(having[0], stay), NO: APART}
        choices = {label(one): self._retag(one, stay) for one in having[:MOST_CHOICES]}
        text = f"{visual} is the number of {len(having)}, and tag …{tag[-6:]} of none of them.  Whose new tag is it?"
        return "tag", text, {**choices, A_NEW_ONE: self._name_new(stay)}

    def _name_new(self, stay: Stay) -> Effect:
        return effect("make", visual=stay.visual or stay.listed or "")

    def _asked(self, stay: Stay, found: Found, kind: str, text: str, choices: Mapping[str, Effect]) -> Found:
        """Ask, unless it was replied to."""
        name = make_id(self.site, "question", stay.weighing, kind, stay.tag, stay.visual)[:8]
        before = self.questions.get(name)
        done = before.effect if before else None
        if done is None:
            asked = before or Asked(name, text, choices, stay.station, stay.weighing, stay.visual)
            return Found(found.who, found.new, asked, doubtful=True)
        if done["do"] == "is":
            return Found(self.book.find(done["animal"]))
        if done["do"] == "make":
            return Found(self._made(stay, done.get("visual") or stay.visual), new=True)
        return Found(found.who, found.new, doubtful=done["do"] == "apart")
