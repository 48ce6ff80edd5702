"""What people ask of the herd book, done: retag, name, mark, unmark, merge, split, reply.

Nothing is guessed: where a word may mean several animals, or what is asked contradicts what is known, the answer is a
question (bridge/herd/questions.py) whose choices say what would be done.  Whether and how a replaced tag must be
reported is for local rules; the words on the page say so.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from neckyoke.bridge.animal_event import Animal, Mark
from neckyoke.bridge.asking.herd_requests import (
    HerdRequest,
    MarkRequest,
    MergeRequest,
    NameRequest,
    OfAnimal,
    ReplyRequest,
    RetagRequest,
    SplitRequest,
    UnmarkRequest,
)
from neckyoke.bridge.asking.requests import parse_request
from neckyoke.bridge.events import Event, make_id
from neckyoke.bridge.herd import change
from neckyoke.bridge.herd.identity import A_NEW_ONE, ALL_NEW, MOST_CHOICES, NO, YES, effect, label
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.herd.questions import APART, Asked, Effect
from neckyoke.bridge.station.record import visual_key

RULES = "Local rules decide whether and how a replaced tag must be reported."


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a wish.  `again`: weighings, by id, of whose animals other things are known now."""

    text: str
    done: bool = True
    events: tuple[Event, ...] = ()
    ask: Asked | None = None
    again: frozenset[str] = frozenset()
    replied: Asked | None = None


@dataclass(slots=True)
class Wishes:
    """Does what is asked of one keeper's book."""

    keeper: Keeper
    _at: datetime = field(init=False)

    def do(self, at: datetime, request: HerdRequest, stay: str | None = None, known: str | None = None) -> Done:
        """Do it, or ask.  `stay` is the weighing that is meant where the request names no animal; `known` is its id."""
        self._at = at
        before = self.keeper.held_for()
        made = self.keeper.make_known(stay, at) if stay and not request.words else []
        done = self._reply(request) if isinstance(request, ReplyRequest) else self._of_animal(request, stay, known)
        if done.ask is not None:
            self.keeper.questions.ask(done.ask)
        after = self.keeper.held_for()
        moved = {name for name, animal in before.items() if after.get(name, animal) != animal}
        return replace(done, events=(*made, *done.events), again=done.again | moved)

    def _of_animal(self, request: HerdRequest, stay: str | None = None, known: str | None = None) -> Done:
        assert isinstance(request, OfAnimal), "all but a reply are about an animal"
        found = self._meant(request, self.keeper.animal_of(stay) if stay and known is None else known)
        if isinstance(found, Done):
            return found
        again = {stay} if stay else set[str]()
        match request:
            case RetagRequest():
                done = self._retag(request, found)
            case NameRequest():
                done = self._name(request, found)
            case MarkRequest():
                done = self._mark(request, found, again)
            case UnmarkRequest():
                done = self._unmark(found, request.text, again)
            case MergeRequest():
                done = self._merge(request, found, request.other)
            case _:
                assert isinstance(request, SplitRequest), "there are no others"
                done = self._split(request, found, request.other)
        return done

    def _meant(self, request: OfAnimal, known: str | None) -> Animal | Done:
        """Find the animal that is meant, by its id where no word names it; where several may be, ask which."""
        if not request.words:
            found = [one] if known and (one := self.keeper.book.find(known)) else []
            if not found:
                return Done("Nobody is known by that stay: say its tag or its visual number first.", done=False)
        else:
            of_words = [self.keeper.called(_digits_or(word)) for word in request.words]
            found = [one for one in of_words[0] if all(one in others for others in of_words[1:])]
        if len(found) == 1:
            return found[0]
        names = " and ".join(request.words)
        if not found:
            return Done(f"Nobody here is called {names}.", done=False)
        return self._which(request, found, f"{names} is the name of {len(found)} here.  Which is meant?", "animal")

    def _which(self, request: OfAnimal, found: Iterable[Animal], text: str, key: str) -> Done:
        """Ask which of several is meant: each choice is the same request with the animal's id."""
        told = request.model_dump(mode="json", by_alias=True, exclude_none=True, exclude={"id"})
        gone = {"animal", *(type(request).naming() if key == "animal" else ())}
        kept = {name: value for name, value in told.items() if name not in gone or key != "animal"}
        choices = {
            label(one): effect("ask", request=json.dumps({**kept, key: one.animal})) for one in [*found][:MOST_CHOICES]
        }
        return self._ask(text, choices, request)

    def _ask(self, text: str, choices: Mapping[str, Effect], request: HerdRequest) -> Done:
        name = make_id(self.keeper.site, "question", request.model_dump_json(exclude={"id"}), text)[:8]
        return Done(text, done=False, ask=Asked(name, text, choices, request.station))

    def _own(self, animal: Animal) -> Animal:
        own = self.keeper.book.get(animal.animal)
        assert own is not None, "it was found in the book"
        return own

    def _write(self, text: str, animals: Iterable[Animal], again: Iterable[str] = ()) -> Done:
        events = self.keeper.write(animals, self._at)
        return Done(text if events else f"{text}  It was so before.", events=tuple(events), again=frozenset(again))

    # -- each of them --------------------------------------------------------------------------------------------

    def _retag(self, request: RetagRequest, animal: Animal) -> Done:
        tag = _digits_or(request.tag)
        owner = self.keeper.book.by_tag(tag)
        if owner is not None and owner.animal != animal.animal and (owner.visual is not None or owner.tag != tag):
            choices = {YES: effect("retag", animal=animal.animal, tag=tag), NO: APART}
            whose = f"{'is' if owner.tag == tag else 'was once'} {owner.visual or label(owner)}'s tag"
            return self._ask(f"…{tag[-6:]} {whose}.  Does {label(animal)} wear it now?", choices, request)
        return self._retagged(animal.animal, tag, self._at)

    def _retagged(self, animal: str, tag: str, since: datetime) -> Done:
        """Let an animal wear a tag, whoever wore it: somebody known by nothing else turns out to be this animal."""
        book = self.keeper.book
        view = book.find(animal)
        if view is None:
            return Done("That animal is not known here any more.", done=False)
        owner = book.by_tag(tag)
        changed = []
        if owner is not None and owner.animal != view.animal:
            if owner.visual is None and owner.tag == tag:
                changed.append(change.merged(self._own(owner), self._own(view)))
            else:
                members = [one for name in book.group(owner.animal) if (one := book.get(name)) is not None]
                changed += [after for one in members if (after := change.untagged(one, tag, since)) is not one]
        if view.tag != tag:
            own = self._own(view)
            bare = change.untagged(own, tag, since) if own.tag == tag else own  # of a merged one it is not the last
            changed.append(change.retagged(bare, tag, since).model_copy(update={"revision": own.revision + 1}))
        text = f"{label(view)} wears …{tag[-6:]} from now on.  {RULES}"
        return self._write(text, changed, self.keeper.with_tag(tag))

    def _name(self, request: NameRequest, animal: Animal) -> Done:
        now = own = self._own(animal)
        if request.facts:
            now = change.said(now, request.facts)
        visual = request.visual
        if visual is not None and (animal.visual is None or visual_key(animal.visual) != visual_key(visual)):
            others = [one for one in self.keeper.book.by_visual(visual) if one.animal != animal.animal]
            if others:
                choices = {
                    f"it is {label(one)}": effect("merge", animal=one.animal, other=animal.animal)
                    for one in others[:MOST_CHOICES]
                }
                choices[f"another animal, also {visual}"] = effect("name", animal=animal.animal, visual=visual)
                text = f"{visual} is the number of {label(others[0])}.  Which is this one?"
                return self._ask(text, choices, request)
            now = change.named(now, visual)
        now = now if now is own else now.model_copy(update={"revision": own.revision + 1})
        again = {name for name, held in self.keeper.held_for().items() if held == animal.animal}
        told = ", ".join([f"visual {visual}"] * (visual is not None) + [f"{k} {v}" for k, v in request.facts.items()])
        return self._write(f"{label(animal)}: {told}.", [] if now is own else [now], again)

    def _mark(self, request: MarkRequest, animal: Animal, again: Iterable[str]) -> Done:
        begins, until = (day and day.isoformat() for day in (request.begins, request.until))
        mark = Mark(text=request.text, begins=begins, until=until)
        return self._write(f"{label(animal)} is marked: {mark.text}.", [change.marked(self._own(animal), mark)], again)

    def _unmark(self, animal: Animal, text: str | None, again: Iterable[str]) -> Done:
        members = [one for name in self.keeper.book.group(animal.animal) if (one := self.keeper.book.get(name))]
        changed = [after for one in members if (after := change.unmarked(one, text)) is not one]
        if not changed:
            known = ", ".join(mark.text for mark in animal.marks) or "none"
            return Done(f"{label(animal)} has no such mark; it has: {known}.", done=False)
        return self._write(f"{label(animal)} is not marked any more: {text or 'all'}.", changed, again)

    def _merge(self, request: MergeRequest, animal: Animal, other: str) -> Done:
        found = self.keeper.called(_digits_or(other))
        if len(found) != 1:
            text = f"{other} is the name of {len(found)} here.  Which is meant?"
            return (
                self._which(request, found, text, "other")
                if found
                else Done(f"Nobody here is called {other}.", done=False)
            )
        one = found[0]
        if one.animal == animal.animal:
            return Done(f"{label(animal)} and {other} are one animal already.", done=False)
        contrary = [what for what in ("visual", "sex", "born") if _differ(getattr(animal, what), getattr(one, what))]
        if contrary:
            choices = {YES: effect("merge", animal=animal.animal, other=one.animal), NO: APART}
            text = f"{label(animal)} and {label(one)} differ in {' and '.join(contrary)}.  Are they one animal?"
            return self._ask(text, choices, request)
        return self._merged(animal.animal, one.animal)

    def _merged(self, animal: str, other: str) -> Done:
        book = self.keeper.book
        root, gone = book.get(book.root(animal)), book.get(book.root(other))
        if root is None or gone is None or root.animal == gone.animal:
            return Done("They are one animal already, or one is not known here.", done=False)
        return self._write(f"{label(gone)} is {label(root)}.", [change.merged(gone, root)])

    def _split(self, request: SplitRequest, animal: Animal, other: str | None) -> Done:
        book = self.keeper.book
        members = [one for name in book.group(animal.animal)[1:] if (one := book.get(name)) is not None]
        meant = [one for one in members if other is None or _is_called(one, other)]
        if not meant:
            return Done(f"Nobody {f'called {other} ' if other else ''}was merged into {label(animal)}.", done=False)
        if len(meant) > 1:
            return self._which(request, meant, f"{len(meant)} were merged into {label(animal)}.  Which one?", "other")
        root = book.get(meant[0].merged_into or "")
        assert root is not None, "a member has a root"
        text = f"{label(meant[0])} and {label(root)} are two animals again."
        return self._write(text, change.split(meant[0], root))

    # -- replies -------------------------------------------------------------------------------------------------

    def _reply(self, request: ReplyRequest) -> Done:
        questions = self.keeper.questions
        asked = questions.asked(request.question)
        if asked is None:
            return Done("Nothing was asked that waits for a reply.", done=False)
        choice = asked.choice(request.choice)
        if choice is None:
            return Done(f"{asked.text}  Reply one of: {'; '.join(asked.effects)}.", done=False, ask=asked)
        asked = questions.close(asked.id, choice)
        done = self._effect(asked, asked.effects[choice])
        again = {asked.weighing} if asked.weighing else set()
        over = self.keeper.over(asked, self._at)
        return replace(done, events=(*done.events, *over), again=done.again | again, replied=asked)

    def _effect(self, asked: Asked, todo: Effect) -> Done:
        match todo["do"]:
            case "retag":
                since = datetime.fromisoformat(todo["at"]) if "at" in todo else self._at
                done = self._retagged(todo["animal"], todo["tag"], since)
            case "name":
                one = self.keeper.book.get(self.keeper.book.root(todo["animal"]))
                text = f"It is {todo['visual']} from now on."
                done = self._write(text, [change.named(one, todo["visual"])] if one else [])
            case "merge":
                done = self._merged(todo["animal"], todo["other"])
            case "ask":
                done = self._of_animal(_parse(todo["request"]))
            case "all-new":
                done = self._all_new()
            case _:
                done = Done(f"{asked.reply}: so be it.")
        return done

    def _all_new(self) -> Done:
        """Take every unknown tag of today for a new animal's, those asked about before as well."""
        self.keeper.all_new(self._at)
        same = [one for one in self.keeper.questions.open() if ALL_NEW in one.effects]
        events = [event for one in same for event in self.keeper.over(one, self._at)]
        again = {one.weighing for one in same if one.weighing}
        for one in same:
            self.keeper.questions.close(one.id, A_NEW_ONE)
        return Done(
            "Unknown tags are new animals' for the rest of today.", events=tuple(events), again=frozenset(again)
        )


def _parse(body: str) -> HerdRequest:
    request = parse_request(body)
    assert isinstance(request, HerdRequest), "it was one when it was kept"
    return request


def _digits_or(word: str) -> str:
    """Spell a tag as its digits; leave any other word alone."""
    bare = "".join(sign for sign in word if sign not in " ._-/")
    return bare if bare.isdecimal() and len(bare) >= 15 else word


def _differ(one: str | None, two: str | None) -> bool:
    return one is not None and two is not None and one.casefold() != two.casefold()


def _is_called(animal: Animal, word: str) -> bool:
    tags = {tag.id for tag in animal.tags}
    visuals = {visual_key(one) for one in animal.visuals}
    return animal.animal == word or _digits_or(word) in tags or visual_key(word) in visuals
