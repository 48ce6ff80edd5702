"""A herd of our own without platform or reader: who comes, on which day, and what is said of them."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from neckyoke.bridge.asking.herd_requests import HerdRequest
from neckyoke.bridge.asking.requests import parse_request
from neckyoke.bridge.events import Animal, Attention, Clock, Event, Question, Tag, Weighing, Weight, read_event, wrap
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.held import Held
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.herd.questions import Questions
from neckyoke.bridge.herd.wishes import Done, Wishes
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.job.roster.roster import Roster
from neckyoke.bridge.job.sheet import Sheet, load_sheet
from tests.support.sheets import one

SITE = "larkmoor"
MORNING = datetime(2026, 11, 1, 6, tzinfo=UTC)
DRENCH = '[[treatments]]\nname = "oral drench"\nml = 10\nwithhold_days = 28\n'


def tag(number: int) -> str:
    """Make a tag's digits."""
    return f"999{number:012d}"


def sheet_of(folder: Path, text: str = DRENCH, title: str = "Induction") -> Sheet:
    """Write and read a job sheet."""
    path = folder / f"{title}.toml"
    path.write_text(f'title = "{title}"\n{text}')
    return load_sheet(path)


class Farm:
    """Keeper, clerk and past of one station; each `weigh` is one stay, ended and final."""

    def __init__(self, sheet: Sheet | None = None, roster: Roster | None = None) -> None:
        self.events: list[Event] = []
        self.number = 0
        self.sheet, self.roster = sheet, roster
        self.values: dict[str, str] = {}
        self.latest: dict[str, Weighing] = {}
        self.clerks: dict[str, Clerk] = {}
        self.typed: dict[str, dict[str, Any] | None] = {}
        self.start(Book(), Held())

    def start(self, book: Book, held: Held) -> None:
        """Begin a run with what the last one left."""
        self.keeper = Keeper(SITE, book, held=held, questions=Questions(self.values))
        self.past = Past(group=book.group)
        for event in self.events:
            self.past.add(event)
        self.clerk = Clerk(
            one(self.sheet, self.roster),
            history=self.past.weights,
            doses=self.past.doses,
            shown=self.past.shown,
            had=self.past.had,
        )

    def restart(self) -> None:
        """Lose what is in memory; the book is made anew from the events, as they were spelled."""
        book, held = Book(), Held()
        for event in self.events:
            data = read_event(event.to_json()).data
            if isinstance(data, Animal):
                book.fold(data)
            elif isinstance(data, Weighing):
                held.add(data)
        self.start(book, held)

    def use(self, sheet: Sheet | None, roster: Roster | None = None) -> None:
        """Take another sheet."""
        self.sheet, self.roster = sheet, roster
        self.clerk = Clerk(
            one(sheet, roster),
            history=self.past.weights,
            doses=self.past.doses,
            shown=self.past.shown,
            had=self.past.had,
        )

    def take(self, events: list[Event]) -> list[Event]:
        """Keep what comes of it."""
        for event in events:
            self.events.append(event)
            self.past.add(event)
            if isinstance(event.data, Weighing):
                self.latest[event.data.weighing] = event.data
        self.values |= {name: body for name, body in self.keeper.questions.changes().items() if body is not None}
        return events

    def weigh(self, day: int, digits: str | None, visual: str | None = None, **given: Any) -> Weighing:
        """Let one animal come, so many days after the first morning."""
        self.number += 1
        on = MORNING + timedelta(days=day, minutes=self.number)
        kg = given.pop("kg", 300.0 + day)
        data = Weighing(
            **{
                "weighing": f"w{self.number}",
                "station": "crush",
                "number": self.number,
                "tag": as_tag(digits) if digits else None,
                "weight": Weight(kg=kg, grade="good", first_kg=kg),
                "on": on,
                "settled": on,
                "off": on,
                "clock": Clock.SYNCHRONISED,
                "animal": {"visual": visual} if visual else None,
                **given,
            }
        )
        self.publish(data)
        return self.latest[data.weighing]

    def ask(self, day: int = 0, stay: str | None = None, **words: Any) -> Done:
        """Ask something of the book, and publish anew what follows, as a site does."""
        request = parse_request(words)
        assert isinstance(request, HerdRequest), request
        done = Wishes(self.keeper).do(MORNING + timedelta(days=day, hours=9), request, stay)
        self.take(list(done.events))
        self.again({*done.again} & self.latest.keys())
        return done

    def withheld(self, day: int) -> set[str]:
        """Return the first weighing of every animal that is withheld on a day by what was given here."""
        roots = {self.keeper.book.root(animal) for animal, _ in self.keeper.held.on(self.day(day))}
        return {one.first or one.animal for root in roots if (one := self.keeper.book.find(root)) is not None}

    def again(self, weighings: set[str]) -> None:
        """Publish these anew, as a station does: bare of what job and book say."""
        for name in sorted(weighings):
            old = self.latest[name]
            bare = {"animal": self.typed[name], "flags": (), "marks": (), "details": {}, "revision": old.revision + 1}
            self.publish(old.model_copy(update=bare))

    def publish(self, data: Weighing) -> None:
        """Take a weighing as the station says it."""
        self.typed.setdefault(data.weighing, data.animal)
        event = wrap(data, site=SITE, time=data.off, key=f"{data.weighing}/{data.revision}")
        self.take(self.keeper.take(event, self.clerks.setdefault(data.weighing, self.clerk)))

    def questions(self) -> list[Question]:
        """Return what is asked and not replied to."""
        return [one.question for one in self.keeper.questions.open()]

    def attentions(self) -> list[Attention]:
        """Return all that was said."""
        return [event.data for event in self.events if isinstance(event.data, Attention)]

    def day(self, number: int) -> date:
        """Return the date so many days after the first morning."""
        return (MORNING + timedelta(days=number)).date()


def as_tag(digits: str) -> Tag:
    """Make a tag as published."""
    return Tag(id=digits, code=digits[:3], national=digits[3:], animal=True)
