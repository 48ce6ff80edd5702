"""Keeps the herd book: says of each stay whose it was, and lets animals become known when that is sure.

    settled, weighing --identify--> animal id, flags, marks --(the clerk fills)--> event
                                        |                                            |
                                        question, mark: attention                    final, or named: neckyoke.animal

A weighing that a later one may still change makes no animal yet: it waits until its own `final_at` (`due`), or until a
person names it.  Time is an argument; the date of a moment comes from `today`, for the farm's date is not ours to know.
"""

from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Protocol, TypeAlias

from neckyoke.bridge.animal_event import Animal
from neckyoke.bridge.events import Attention, Event, Flag, Settled, TagSeen, Weighing, wrap
from neckyoke.bridge.herd.book import LONG_AGO, Book
from neckyoke.bridge.herd.came import Came
from neckyoke.bridge.herd.change import WISH, facts_of, filled, lasting_of, named, retagged, said
from neckyoke.bridge.herd.held import Held
from neckyoke.bridge.herd.identity import Found, Identifier, Stay
from neckyoke.bridge.herd.questions import Asked, Questions
from neckyoke.bridge.job.doses.withholding import is_withheld
from neckyoke.bridge.job.roster.tags import digits

RECENT = 300
"""Weighings remembered with their animals, to be amended when it turns out whose they were."""
TOLD_AGAIN = timedelta(minutes=10)
"""A marked animal is told of once in so long."""
NAMING = ("animal", "visual", "tag", "was", "other", "question")
"""Keys of requests that name an animal, or what was asked of one."""
OURS = frozenset({Flag.WHICH_ANIMAL, Flag.MARKED})

OnWrite: TypeAlias = Callable[[str, Animal | None, Animal], None]
"""Hears of each change: the weighing that shows it, if one does, and the animal before and after."""


class Around(Protocol):
    """What one station's clerk says of a weighing's surroundings."""

    def fill(self, event: Event, who: Animal | None = None) -> Event:
        """Return the event with what the job knows of the animal."""

    def listed(self, number: int, tag: str) -> str | None:
        """Return the visual number that the roster has for a tag."""

    def mob(self, number: int) -> str | None:
        """Return the mob of the sheet that holds for a number."""


@dataclass(frozen=True, slots=True)
class _Recent:
    """Whose a weighing was held to be, and whether that is doubtful."""

    station: str
    animal: str
    tag: str | None
    doubtful: bool


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A weighing whose animal is not made before it is final."""

    at: datetime
    found: Found
    data: Weighing
    mob: str | None


class Keeper:
    """The herd book and whoever writes in it.  One a site; deterministic: the same input gives the same events.

    `today` gives the farm's date of a moment.
    """

    def __init__(
        self,
        site: str,
        book: Book | None = None,
        *,
        held: Held | None = None,
        questions: Questions | None = None,
        today: Callable[[datetime], date] = datetime.date,
    ) -> None:
        self.site = site
        self.book = book if book is not None else Book()
        self.held = held or Held()
        self.questions = questions or Questions()
        self.today = today
        self._pending: dict[str, Animal] = {}
        self._waiting: OrderedDict[str, _Waiting] = OrderedDict()
        self._recent: OrderedDict[str, _Recent] = OrderedDict()
        self.came = Came()
        self.all_new_on: date | None = None  # of this day every unknown tag is a new animal's
        self.on_write: OnWrite = lambda _cause, _before, _after: None
        self._day = date.min
        self._shown: dict[str, str] = {}
        self._told: dict[tuple[str, str], datetime] = {}
        self._identifier = Identifier(site, self.book, self.questions, self._pending, self.held_for)

    # -- what happens --------------------------------------------------------------------------------------------

    def take(self, event: Event, around: Around) -> list[Event]:
        """Return an event with its animal and what the job knows of that, and what follows from it."""
        data = event.data
        if isinstance(data, TagSeen):
            who = self.book.by_tag(data.tag.id)
            return [event, *(self._tell_marks(who, data.station, event.time) if who else ())]
        if not isinstance(data, Settled | Weighing):
            return [around.fill(event)]
        mob = around.mob(data.number)
        known = (data.animal or {}).get("id")  # of an earlier run: what a person says of it names no other animal
        found = Found(self.book.find(known)) if known else self._find(data, around, mob)
        event = around.fill(event if known else self._named(event, data, found), found.who)
        by_person = not known and bool((data.animal or {}).get("visual"))
        follow = self._follow(event, found, mob, by_person=by_person)
        asks = not known or Flag.VOIDED in data.flags  # else it is as doubtful as it was
        return [event, *(self._ask(data, found, event.time) if asks else ()), *follow]

    def _find(self, data: Settled | Weighing, around: Around, mob: str | None) -> Found:
        stay = Stay.of(data, around.listed(data.number, data.tag.id) if data.tag else None)
        found = self._identifier.find(stay, lambda: self._suspects(data, mob))
        if Flag.VOIDED in data.flags and (found.new or found.ask):
            return Found(None if found.new else found.who)
        return found

    def _suspects(self, data: Settled | Weighing, mob: str | None) -> Sequence[Animal]:
        """List the withheld animals that may have lost their tag: of this mob, where that is known; not come yet."""
        day = self.today(data.on)
        if self.all_new_on == day or (came := self.came.by(data, day)) is None:
            return ()
        here, known_by = {*map(self.book.root, came.animals)}, {data.weighing, *came.weighings}
        roots = dict.fromkeys(self.book.root(animal) for animal, _ in self.held.on(day))
        roots |= dict.fromkeys(one.animal for one in self.book.on_paper() if is_withheld(one.withheld_until, day))
        found = [one for root in roots if root not in here and (one := self.book.find(root)) is not None]
        return [one for one in found if one.first not in known_by and (mob is None or one.mob in {None, mob})]

    def _named(self, event: Event, data: Settled | Weighing, found: Found) -> Event:
        """Return the event with the animal's id and numbers, and the flags that go with them."""
        who = found.who
        flags = [flag for flag in data.flags if flag not in OURS]
        flags += [Flag.WHICH_ANIMAL] if found.doubtful else []
        marks: tuple[str, ...] = ()
        animal = data.animal
        if who is not None:
            self._day = self.today(data.on)
            self._shown = {data.weighing: who.animal}
            marks = self._marks(who, self._day)
            told = {"id": who.animal, "known_as": self._own(data, who), "visual": who.visual, **facts_of(who)}
            animal = {**{key: value for key, value in told.items() if value is not None}, **(data.animal or {})}
            animal["id"] = who.animal
        flags += [Flag.MARKED] if marks else []
        update = {"animal": animal, "flags": tuple(flags), "marks": marks}
        return event.model_copy(update={"data": data.model_copy(update=update)})

    def _own(self, data: Settled | Weighing, who: Animal) -> str | None:
        """Return the id that it has by itself where it was merged into another: a split gives back what was its own."""
        said = (data.animal or {}).get("visual")
        if data.tag:
            own = self.book.own_by_tag(data.tag.id)
        else:
            own = self.book.own_by_visual(said, who.animal) if said else None
        return own if own is not None and own != who.animal and self.book.root(own) == who.animal else None

    def _follow(self, event: Event, found: Found, mob: str | None, *, by_person: bool) -> list[Event]:
        """Note whose it was; let the animal become known when that is sure, or when a person named it (`by_person`)."""
        data, who = event.data, found.who
        assert isinstance(data, Settled | Weighing), "nothing else has an animal"
        events = list(self._tell_marks(who, data.station, event.time)) if who else []
        if isinstance(data, Settled):
            return events
        self._forget(data.weighing)
        self.saw(data)
        if who is None or Flag.VOIDED in data.flags:
            self._recent.pop(data.weighing, None)
            return events
        worn = data.tag.id if data.tag else None
        self._recent[data.weighing] = _Recent(data.station, who.animal, worn, found.doubtful)
        if len(self._recent) > RECENT:
            self._recent.popitem(last=False)
        waiting = _Waiting(data.final_at or event.time, found, data, mob)
        if data.final or data.final_at is None or (by_person and not found.doubtful):
            return events + self._known(waiting, event.time)
        known = self.book.find(who.animal)
        if found.new or (known is not None and (known.tag, known.visual) != (who.tag, who.visual)):
            self._waiting[data.weighing] = waiting
            for tag in who.tags:
                self._pending.setdefault(tag.id, who)
        return events

    def _forget(self, weighing: str) -> None:
        waiting = self._waiting.pop(weighing, None)
        if waiting is not None and waiting.found.who is not None:
            for tag in waiting.found.who.tags:
                if tag.id in self._pending and self._pending[tag.id].first == waiting.found.who.first:
                    del self._pending[tag.id]

    def due(self, until: datetime) -> list[Event]:
        """Let the animals become known whose weighings are final by then."""
        ready = sorted((one for one in self._waiting.values() if one.at <= until), key=lambda one: one.at)
        return [event for one in ready for event in self._known(one, one.at)]

    def finish(self, at: datetime) -> list[Event]:
        """End the run: nothing will change any more."""
        return [event for one in list(self._waiting.values()) for event in self._known(one, at)]

    def _known(self, one: _Waiting, at: datetime) -> list[Event]:
        """Let an animal become known, or get the tag or number that it has from this weighing on."""
        data, who = one.data, one.found.who
        assert who is not None, "nobody waits for nobody"
        self._forget(data.weighing)
        mob = one.mob
        now = self.book.get(self.book.root(who.animal))
        if now is None or now.is_nobody:
            revision = 1 + (now.revision if now else 0)
            now = filled(who, {**data.details, "mob": mob}, "first weighed here", assumed=True)
            now = now.model_copy(update={"assumed": tuple(name for name in now.assumed if name != "mob")})
            how = {"revision": revision, "change": "known", "why": "first weighed here"}
            return self.write([said(now, lasting_of(data)).model_copy(update=how)], at, data.weighing)
        view = self.book.find(now.animal)
        assert view is not None, "its root is there"
        before = now
        if not one.found.doubtful:
            now = retagged(now, who.tag, data.on) if who.tag and who.tag != view.tag else now
            now = named(now, who.visual) if who.visual and who.visual != view.visual else now
            stranger = Flag.NOT_EXPECTED in data.flags
            now = filled(now, {"mob": mob}, "weighed with its mob") if view.mob is None and not stranger else now
            now = said(now, lasting_of(data))
        next_one = now.model_copy(update={"revision": before.revision + 1})
        return self.write([] if now is before else [next_one], at, data.weighing)

    def write(self, animals: Iterable[Animal], at: datetime, cause: str = WISH) -> list[Event]:
        """Take changed animals into the book, and make the events that say so.

        `cause` is the weighing that shows it; without one, a person asked for it.
        """
        events = []
        for animal in animals:
            before = self.book.get(animal.animal)
            if self.book.fold(animal):
                self.on_write(cause, before, animal)
                events.append(wrap(animal, site=self.site, time=at, key=f"{animal.animal}/{animal.revision}"))
        return events

    def adopt(self, data: Weighing) -> list[Event]:
        """Let a weighing's animal become known that no event told of: of an earlier version, or cut off by a stop."""
        if Flag.VOIDED in data.flags:
            return []
        named_as = (data.animal or {}).get("id")
        found = self._identifier.find(Stay.of(data))
        who = found.who
        if who is None or not (found.new or named_as):
            return []
        if found.new and named_as and self.book.get(named_as) is None:
            who = who.model_copy(update={"animal": named_as})
        return self._known(_Waiting(data.off, Found(who, new=True), data, None), data.off)

    def saw(self, data: Weighing) -> None:
        """Take what a weighing says as it is: of an earlier run, put back, or at another time by a clock put right."""
        self.held.add(data)
        self.came.add(data, self.today(data.on))

    # -- what a person should know -------------------------------------------------------------------------------

    def _marks(self, who: Animal, day: date) -> tuple[str, ...]:
        return tuple(mark.text for mark in who.marks if mark.holds(day.isoformat()))

    def _tell_marks(self, who: Animal, station: str, at: datetime) -> list[Event]:
        self._day = self.today(at)
        marks = self._marks(who, self._day)
        if not marks or abs(at - self._told.get((station, who.animal), LONG_AGO)) < TOLD_AGAIN:
            return []
        self._told[station, who.animal] = at
        name = who.visual or who.tag or "this animal"
        text = f"{name} is marked: {'; '.join(marks)}."
        told = Attention(station=station, about="marked", text=text, over=True, lasted_s=0.0)
        return [wrap(told, site=self.site, time=at, key=f"marked/{who.animal}/{at.isoformat()}")]

    def _ask(self, data: Settled | Weighing, found: Found, at: datetime) -> list[Event]:
        """Ask what is new to ask of a stay, and let go what need not be asked any more."""
        ask = found.ask
        gone = self.questions.drop(data.weighing, ask.id if ask else None)
        events = [self.question(one, at, over=True) for one in gone]
        return [*events, self.question(ask, at)] if ask and self.questions.ask(ask) else events

    def over(self, asked: Asked, at: datetime) -> list[Event]:
        """Return the end of the attention that told of a question about a stay."""
        return [self.question(asked, at, over=True)] if asked.weighing else []

    def question(self, asked: Asked, at: datetime, *, over: bool = False) -> Event:
        """Return the attention that tells of a question, or of its end."""
        told = Attention(
            station=asked.station,
            about=f"question-{asked.id}",
            text=f"Not asked any more: {asked.text}" if over else asked.text,
            over=over,
            lasted_s=0.0 if over else None,
            question=None if over else asked.question,
        )
        return wrap(told, site=self.site, time=at, key=f"question/{asked.id}/{at.isoformat()}/{over}")

    # -- for those who ask ---------------------------------------------------------------------------------------

    def animal_of(self, weighing: str) -> str | None:
        """Return the id of a recent weighing's animal."""
        return self._recent[weighing].animal if weighing in self._recent else None

    def concerned(self, request: object) -> Sequence[str]:
        """Return the ids of all animals that a request may be about: their pasts are wanted when it is done."""
        words = [str(word) for key in NAMING if (word := getattr(request, key, None)) is not None]
        found = [one for word in words for one in self.called(word)]
        asked = [self.questions.get(word) for word in words] + self.questions.open()
        of_choices = [effect.get("animal", "") for one in asked if one for effect in one.effects.values()]
        return [*dict.fromkeys([*(one.animal for one in found), *filter(None, of_choices)])]

    def called(self, word: str) -> list[Animal]:
        """Find the animals that a word may mean: an id, a tag worn now or before, else a visual number."""
        known = self.book.find(word)
        tagged = None if known else self.book.by_tag(digits(word))
        return [known] if known else [tagged] if tagged else self.book.by_visual(word)

    def held_for(self) -> dict[str, str]:
        """Return of every recent weighing whose it is now."""
        return {name: self.book.root(one.animal) for name, one in self._recent.items()}

    def with_tag(self, tag: str) -> set[str]:
        """Return the recent weighings with a tag."""
        return {name for name, one in self._recent.items() if one.tag == tag}

    def make_known(self, weighing: str, at: datetime) -> list[Event]:
        """Let the animal of a weighing become known at once, for a person speaks of it."""
        return self._known(self._waiting[weighing], at) if weighing in self._waiting else []

    def all_new(self, at: datetime) -> None:
        """Take no unknown tag of this day for a withheld animal's new one."""
        self.all_new_on = self.today(at)

    def moved(self, days: Mapping[date, date]) -> None:
        """Take that a clock was put right: what was said of a day holds for the day that it was."""
        self.all_new_on = days.get(self.all_new_on, self.all_new_on) if self.all_new_on else None

    def seen(self, tag: str | None, weighing: str | None) -> tuple[str | None, tuple[str, ...]]:
        """Return number and marks of the animal that stands there, by its tag, or by the stay where that was named."""
        known = self._shown.get(weighing or "")
        who = self.book.find(known) if known else self.book.by_tag(tag) if tag else None
        return (who.visual, self._marks(who, self._day)) if who else (None, ())
