"""What was asked and can be taken back: what each request changed, kept through restarts with the stations' memories.

A word on a stay at hand is taken back by going through the others again (`station/words`), one on the job by going
through that again (`job/jobs`).  What is here serves what neither knows: the herd book, and weighings that only the
journal has.  When one is taken back, later ones are gone over as though it had not been: any order will do.
"""

import json
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

from neckyoke.bridge.asking.dose_requests import MOST_AT_ONCE
from neckyoke.bridge.events import Animal, Event, Weighing
from neckyoke.bridge.herd.change import WISH
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.herd.putting_back import Change, difference, joined, without
from neckyoke.bridge.herd.questions import Asked
from neckyoke.bridge.station.instructions import About

KEPT = MOST_AT_ONCE + 100
"""Requests that can be taken back: all parts of one about many animals, and what was said since."""
LATER = 100
"""Stays of the same animals, after a request, that are gone over when it is taken back."""
LATEST = 600
"""Weighings whose newest revision is at hand to compare with."""
WHOSE = frozenset({"tag", "animal"})
"""What tells of a weighing whose it is."""
SAID_OF_STAYS = ("animal", "doses_said", "findings", "flags", "maybe_same", "none_given", "notes", "skipped", "tag")
"""What a person's words change of a stay that has not ended."""


@dataclass(slots=True)
class Undoable:
    """One request.  `text` is what was answered; `main` the weighing that it was about, `open` while that stood there.

    `whole` is the name of the request about many animals that it is a part of.
    `of` has the station of each weighing; `later` that of each stay since, of an animal that it is about (`names`: ids,
    tags, numbers): what is known there may come from it.
    `teaches`: what that weighing says of its animal may come from it, and what others say whose tag or animal it
    changed.  `closed` are the questions that it replied to, `raised` those that it led to, `dropped` those about stays
    that are asked no more since, each with its turn;
    `all_new` the day of which every unknown tag was held to be a new animal's before, where it changed that.
    """

    asked: str
    turn: int
    station: str | None
    text: str
    main: str | None = None
    whole: str | None = None
    open: bool = False
    teaches: bool = False
    weighings: dict[str, Change] = field(default_factory=dict)
    of: dict[str, str] = field(default_factory=dict)
    animals: dict[str, Change] = field(default_factory=dict)
    closed: list[str] = field(default_factory=list)
    raised: list[str] = field(default_factory=list)
    dropped: list[tuple[int, dict[str, Any]]] = field(default_factory=list)
    all_new: list[str | None] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    later: dict[str, str] = field(default_factory=dict)
    spelled: str = ""

    def taught(self, weighing: str) -> bool:
        """Return whether what a weighing says of its animal may come from it."""
        return self.teaches and (weighing == self.main or not WHOSE.isdisjoint(self.weighings.get(weighing, {})))

    def spell(self) -> str:
        """Spell it as it is kept."""
        if not self.spelled:
            self.spelled = json.dumps({name: value for name, value in asdict(self).items() if name != "spelled"})
        return self.spelled


@dataclass(frozen=True, slots=True)
class Owed:
    """What is to be done to a weighing that only the journal knows: moved to its job, or put back to what it was."""

    about: About
    back: Change | None = None
    stood: bool = False  # it had not ended when the word was said
    asks: tuple[tuple[int, Asked], ...] = ()  # what was asked of it then, in these turns
    anew: bool = False  # what is known of its animal is to be filled in anew; it may be at hand


class Undos:
    """The last requests of a site."""

    def __init__(self, keeper: Keeper, kept: Iterable[Mapping[str, str]] = ()) -> None:
        self._keeper = keeper
        known = [Undoable(**json.loads(body)) for bodies in kept for body in bodies.values()]
        self._known = OrderedDict((one.asked, one) for one in sorted(known, key=lambda one: one.turn))
        self._turn = max((one.turn for one in known), default=0)
        self._latest: OrderedDict[str, Weighing] = OrderedDict()
        self._before: dict[str, Weighing | None] | None = None
        self._wrote: list[tuple[str, Animal | None, Animal]] = []
        self._asked_before: tuple[list[tuple[int, Asked]], date | None] = ([], None)
        keeper.on_write = self.wrote

    # -- what happens

    def begin(self, past: Weighing | None) -> None:
        """Take what comes until `note` or `drop` for the doing of what is asked."""
        self._before, self._wrote = {past.weighing: past} if past else {}, []
        self._asked_before = self._keeper.questions.turns(), self._keeper.all_new_on

    def saw(self, data: Weighing) -> None:
        """Take a weighing as it is published."""
        if self._before is not None:
            self._before.setdefault(data.weighing, self._latest.get(data.weighing))
        if data.revision == 1:
            self._came(data)
        self._latest[data.weighing] = data
        self._latest.move_to_end(data.weighing)
        if len(self._latest) > LATEST:
            self._latest.popitem(last=False)

    def newest(self, weighing: str) -> Weighing | None:
        """Return the newest revision of a weighing, while that is at hand."""
        return self._latest.get(weighing)

    def _came(self, data: Weighing) -> None:
        """Note a new stay with the requests that were about its animal before."""
        names = _names(data)
        for one in self._known.values():
            if not names.isdisjoint(one.names) and data.weighing not in one.weighings and len(one.later) < LATER:
                one.later[data.weighing] = data.station
                one.spelled = ""

    def wrote(self, cause: str, before: Animal | None, after: Animal) -> None:
        """Take that an animal changed, by a weighing (its id) or a wish."""
        if self._before is not None:
            self._wrote.append((cause, before, after))
        elif cause != WISH:
            for one in self._known.values():
                if one.taught(cause):
                    self._learned(one, before, after)

    def note(self, one: Undoable, events: Iterable[Event], stood: tuple[Weighing | None, Weighing | None]) -> None:
        """Keep what was changed by what was asked.  `stood`: the open stay before and after, as if it ended."""
        for event in events:
            if isinstance(event.data, Weighing):
                self.saw(event.data)
        befores, self._before = self._before or {}, None
        for name, was in befores.items():
            if was is not None and name in self._latest:
                one.weighings[name] = difference(_body(was), _body(self._latest[name]))
                one.of[name] = was.station
        before, after = stood
        if before is not None and after is not None and before.weighing == after.weighing == one.main:
            of_words = difference(_body(before), _body(after))
            one.weighings[before.weighing] = {key: of_words[key] for key in SAID_OF_STAYS if key in of_words}
            one.of[before.weighing] = before.station
            one.open = True
        for cause, known, learned in self._wrote:
            if cause == WISH or one.taught(cause):
                self._learned(one, known, learned)
        turns, all_new = self._asked_before
        open_before = [asked.id for _, asked in turns]
        one.raised = [asked.id for asked in self._keeper.questions.open() if asked.id not in open_before]
        replied = (self._keeper.questions.get(name) for name in open_before)
        one.closed = [asked.id for asked in replied if asked is not None and asked.reply is not None]
        gone = ((turn, asked) for turn, asked in turns if self._keeper.questions.get(asked.id) is None)
        one.dropped = [(turn, asked.as_json()) for turn, asked in gone if asked.weighing]
        if all_new != self._keeper.all_new_on:
            one.all_new = [all_new.isoformat() if all_new else None]
        about = [self._latest.get(one.main or ""), before, after, *(befores.get(name) for name in one.weighings)]
        one.names = sorted({*one.names, *(name for data in about if data is not None for name in _names(data))})
        self._known[one.asked] = one
        while len(self._known) > KEPT:
            self._known.popitem(last=False)

    def drop(self) -> None:
        """Keep nothing of what was asked: it was not done, or cannot be taken back."""
        self._before = None

    def turn(self) -> int:
        """Return the turn of the next."""
        self._turn += 1
        return self._turn

    @staticmethod
    def _learned(one: Undoable, before: Animal | None, after: Animal) -> None:
        was = before or Animal(animal=after.animal, first=after.first)
        change = difference(was.model_dump(mode="json"), after.model_dump(mode="json"))
        one.animals[after.animal] = joined(one.animals.get(after.animal, {}), change)
        tags = {tag.id for side in (was, after) for tag in side.tags}
        whose = {side.merged_into for side in (was, after) if side.merged_into}
        one.names = sorted({*one.names, after.animal, *tags, *whose, *was.visuals, *after.visuals})
        one.spelled = ""

    # -- what is asked

    def find(self, asked: str | None, station: str | None) -> Undoable | None:
        """Return a request; without its id, the last of a station, or of the herd book."""
        if asked is not None:
            return self._known.get(asked)
        return next((one for one in reversed(self._known.values()) if one.station in {station, None}), None)

    def whole(self, station: str | None) -> list[str]:
        """Return what was asked last of a station, by name: all parts of one about many animals, the last one first."""
        last = self.find(None, station)
        if last is None or last.whole is None:
            return [last.asked] if last is not None else []
        mine = (one for one in reversed(self._known.values()) if one.station == last.station)
        return [one.asked for one in mine if one.whole == last.whole]

    def take(self, one: Undoable) -> None:
        """Forget a request that is taken back; later ones are gone over as though it had not been."""
        del self._known[one.asked]
        for later in self._known.values():
            if later.turn < one.turn:
                continue
            for of, gone in ((later.weighings, one.weighings), (later.animals, one.animals)):
                for name in of.keys() & gone.keys():
                    of[name] = without(of[name], gone[name])
                    later.spelled = ""
            kept = [(turn, asked) for turn, asked in later.dropped if asked["id"] not in one.raised]
            if len(kept) != len(later.dropped):
                later.dropped, later.spelled = [*kept, *one.dropped], ""

    def memory(self, station: str, *, first: bool) -> dict[str, str]:
        """Return what a station carries to the next run; the `first` one takes what is of none."""
        mine = (one for one in self._known.values() if one.station == station or (first and one.station is None))
        return {one.asked: one.spell() for one in mine}


def _body(data: Weighing) -> dict[str, Any]:
    return data.model_dump(mode="json")


def _names(data: Weighing) -> set[str]:
    """Return what tells the animal of a weighing."""
    told = (data.animal or {}).get
    named = {str(name) for name in (told("id"), told("known_as"), told("visual")) if name}
    return named | {data.tag.id} if data.tag else named
