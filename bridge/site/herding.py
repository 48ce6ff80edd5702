"""What people ask of the herd book and by a visual number, where site, stations and book come together."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from neckyoke.bridge.asking.herd_requests import HerdRequest, ImportRequest, OfAnimal, ReplyRequest
from neckyoke.bridge.asking.parts import Base
from neckyoke.bridge.asking.requests import Answer, Doubt
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.words import column_name
from neckyoke.bridge.events import Animal, Attention, Event, Stamper, Weighing, wrap
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.change import WISH
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.herd.rows import read_roster, take_table
from neckyoke.bridge.herd.wishes import Done, Wishes
from neckyoke.bridge.job.afterwards import Afterwards
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.roster.roster import Roster
from neckyoke.bridge.job.roster.table import Csv
from neckyoke.bridge.job.roster.troubles import Troubles
from neckyoke.bridge.many import many
from neckyoke.bridge.station.instructions import About, Identify
from neckyoke.bridge.station.record import visual_key
from neckyoke.bridge.station.station import Station
from neckyoke.protocols.tagcode import TagCode

DOUBTS_TOLD = 5
"""Kinds of trouble with a roster that are told at once."""


@dataclass(slots=True)
class Rosters:
    """Takes the animals of rosters into the herd book, each roster once."""

    site: str
    book: Book
    _read: dict[str, Roster] = field(default_factory=dict)

    def take(self, clerks: Mapping[str, Clerk], at: datetime, key: str) -> list[Event]:
        """Take those that are new here; what contradicts the book is told.  `key` tells this call from every other."""
        events: list[Event] = []
        for name, clerk in clerks.items():
            if clerk.roster is None or clerk.roster is self._read.get(name):
                continue
            self._read[name] = clerk.roster
            troubles = Troubles(clerk.roster.path)
            events += read_roster(self.site, self.book, clerk.roster, at, troubles)
            doubts = list(troubles.problems())
            if doubts:
                text = " ".join(str(doubt) for doubt in doubts[:DOUBTS_TOLD])
                told = Attention(station=name, about="roster", text=text, over=True, lasted_s=0.0)
                events.append(wrap(told, site=self.site, time=at, key=f"roster/{name}/{key}"))
        return events


class Place(Protocol):
    """What is needed of a site."""

    config: Config
    keeper: Keeper
    wishes: Wishes
    clerks: dict[str, Clerk]
    stations: dict[str, Station]
    stamp: Stamper

    def advance(self, t: float) -> list[Event]:
        """Let time pass."""

    def filled_all(self, t: float, events: list[Event]) -> list[Event]:
        """Fill in what job and book know."""

    def station_of(self, request: Base) -> str | None:
        """Return the station that a request is to."""


def ask_herd(site: Place, t: float, request: HerdRequest, past: Weighing | None) -> tuple[Answer, list[Event]]:
    """Do what is asked of the herd book, and publish anew the stays at hand of whose animals other things are known.

    `past`: see `Site.request`.
    """
    if isinstance(request, ImportRequest):
        return _take_rows(site, t, request)
    events = site.advance(t)
    stay, known = (past.weighing, (past.animal or {}).get("id")) if past else (None, None)
    if stay is None and isinstance(request, OfAnimal) and not request.words:
        name = site.station_of(request)
        stay = site.stations[name].known_of(request.about)[0] if name else None
    done = site.wishes.do(site.stamp(t).time, request, stay, known)
    events += done.events
    for station in site.stations.values():
        events += site.filled_all(t, station.again(t, done.again, done.text))
    if past is not None and done.replied is not None:
        events += _replied(site, t, past, done)
    question = done.ask.question if done.ask else None
    return Answer(id=request.id, done=done.done, text=done.text, weighing=stay, question=question), events


def _take_rows(site: Place, t: float, request: ImportRequest) -> tuple[Answer, list[Event]]:
    """Take rows of a table into the herd book; each change is noted, so that it can be taken back."""
    events, at, book = site.advance(t), site.stamp(t).time, site.keeper.book
    troubles = Troubles(Path("rows"))
    header = tuple(column_name(cell) if cell.strip() else "" for cell in request.header)
    table = Csv(troubles.path, header, tuple(map(list, request.rows.values())), tuple(request.rows))
    today = at.astimezone(site.config.zone).date()
    before = book.bodies()  # each by itself, whatever it was merged into
    made = list(take_table(site.config.site, book, table, at, today, troubles))
    for event in made:
        assert isinstance(event.data, Animal), "rows are of animals"
        was = before.get(event.data.animal)
        site.keeper.on_write(WISH, Animal.model_validate_json(was) if was else None, event.data)
    doubts = [Doubt(**one._asdict()) for one in troubles.each()]
    text = f"{many(len(made), 'animal')} added or filled in; the book has {len(book)}."
    told = Answer(id=request.id, done=True, text=text, taken=len(made), size=len(book), doubts=doubts or None)
    return told, [*events, *made]


def _replied(site: Place, t: float, past: Weighing, done: Done) -> list[Event]:
    """Amend a weighing of an earlier run by the reply to what was asked of it."""
    visual = done.replied.visual if done.replied else None
    update = {"animal": {"visual": visual} if visual else None, "revision": past.revision + 1, "why": done.text}
    now = past.model_copy(update={**update, "final": True, "final_at": None})
    event = wrap(now, site=site.config.site, time=site.stamp(t).time, key=f"{now.weighing}/{now.revision}")
    return site.keeper.take(event, Afterwards(site.clerks[past.station], other=True))


def asked_of_long_ago(site: Place, request: ReplyRequest) -> tuple[str, About] | None:
    """Return station and stay that a reply is about, when that is not at hand."""
    asked = site.keeper.questions.asked(request.question)
    if asked is None or asked.weighing is None or asked.station is None or asked.station not in site.stations:
        return None
    about = About(asked.weighing)
    return None if site.stations[asked.station].number_of(about) is not None else (asked.station, about)


def looked_up(book: Book, roster: Roster | None, ask: Identify, heard: str | None) -> Identify:
    """Find the tag of a visual number in the herd book or the station's roster, when they know it.

    A tag that was heard is set aside only where it is known to be of an animal with another number: an unknown one may
    be a new tag, and the keeper asks.
    """
    if ask.tag is not None or ask.visual is None:
        return ask
    if heard is not None:
        known = book.by_tag(heard) or (roster.by_tag(heard) if roster else None)
        if known is None or known.visual is None or visual_key(known.visual) == visual_key(ask.visual):
            return ask
    having = book.by_visual(ask.visual)
    row = roster.by_visual(ask.visual) if roster else None
    digits = having[0].tag if len(having) == 1 else row.tag if row and not having else None
    code = TagCode.from_digits(digits) if digits else None
    return replace(ask, tag=code) if isinstance(code, TagCode) else ask
