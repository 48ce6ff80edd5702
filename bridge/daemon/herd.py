"""Opens the herd book that the journal keeps, and lets become known whom no event told of yet.

Those are the animals of weighings that an earlier version wrote, and of weighings that were not final when the box
stopped: each tag that was weighed is an animal.
"""

from collections.abc import Mapping
from datetime import tzinfo

from neckyoke.bridge.events import Animal, Attention, Event, Weighing, read_event
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.held import Held
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.herd.questions import Questions
from neckyoke.bridge.journal.herd_tables import HerdReading, WithheldRow
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.many import many
from neckyoke.bridge.telling.alerts import Say

TAKEN_OVER = "herd/taken-over"
"""The sequence up to which weighings that name no animal have been looked at."""

CAME = 2000
"""Weighings, the latest, that tell who came today: more than a crush does in a day."""


async def open_herd(site: str, journal: Journal, values: Mapping[str, str], say: Say, zone: tzinfo) -> Keeper:
    """Make the keeper of a site's herd book."""
    book = Book()
    for body in await journal.herd(HerdReading.animals):
        fold(book, read_event(body))
    keeper = Keeper(site, book, questions=Questions(values), today=lambda moment: moment.astimezone(zone).date())
    begun = len(book)
    after = int(values.get(TAKEN_OVER, 0))
    lacking = await journal.herd(lambda herd: herd.unadopted(after))
    events = [made for event in lacking if isinstance(event.data, Weighing) for made in keeper.adopt(event.data)]
    if events or after < journal.last:
        await journal.append(events, values={TAKEN_OVER: str(journal.last + len(events))})
    if events and not begun:
        text = f"In the herd book now, by its tag: {many(len(book), 'animal')} of earlier weighings."
        say(Attention(station=None, about="herd", text=text, over=True, lasted_s=0.0))
    keeper.held = Held(held_rows(book, await journal.herd(HerdReading.withheld)))
    for event in await journal.weighings(limit=CAME):
        if isinstance(event.data, Weighing):
            keeper.came.add(event.data, keeper.today(event.data.on))
    return keeper


def fold(book: Book, event: Event) -> None:
    """Take an animal's event into a book."""
    if isinstance(event.data, Animal):
        book.fold(event.data)


def held_rows(book: Book, rows: list[WithheldRow]) -> list[tuple[str, int, str, str | None]]:
    """Return whose each dose is that may still hold; one that names no animal is its tag's."""
    found = []
    for weighing, revision, animal, tag, meat in rows:
        worn_by = book.by_tag(tag) if tag and not animal else None
        if who := animal or (worn_by.animal if worn_by else None):
            found.append((weighing, revision, who, meat))
    return found
