"""Looks animals up in the journal in good time.

The job asks for an animal's past while it stands there, and cannot wait for a card to answer.  So it is looked up
when its tag is first heard, seconds before it is needed; what becomes of it is kept up from then on.
"""

import asyncio
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from functools import partial

from neckyoke.bridge.events import Event, Weighing
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.job.past import Past, by_tag
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.station.instructions import About
from neckyoke.bridge.telling.alerts import Troubles
from neckyoke.bridge.telling.keep import in_background

LOOKING = "looking animals up"
PASTS_KEPT = 1000
"""Animals whose past is at hand; the one not heard for longest is let go, and looked up again when it is heard."""


class Lookup:
    """The pasts of the animals heard of late, by their ids in the herd book."""

    def __init__(self, journal: Journal, book: Book, troubles: Troubles) -> None:
        self.past = Past(self._owner, book.group)
        self._journal, self._book, self._troubles = journal, book, troubles
        self._known: OrderedDict[str, None] = OrderedDict()
        self._looking: set[asyncio.Task[None]] = set()

    def _owner(self, data: Weighing) -> str | None:
        """Return whose weighing it is where it names no animal, as before there was a herd book."""
        tag = by_tag(data)
        who = self._book.by_tag(tag, at=data.on) if tag else None
        return who.animal if who else tag

    def heard(self, tag: str) -> None:
        """Look the animal with a tag up, without waiting for it."""
        who = self._book.by_tag(tag)
        if who is None and tag not in self._known:
            in_background(self._looking, LOOKING, partial(self._fetch, (tag,), (), (tag,)), self._troubles)
        if who is not None and not self._is_at_hand(who.animal):
            in_background(self._looking, LOOKING, partial(self.fetch, who.animal), self._troubles)

    def _is_at_hand(self, animal: str) -> bool:
        missing = [one for one in self._book.group(animal) if one not in self._known]
        for one in self._book.group(animal):
            if one in self._known:
                self._known.move_to_end(one)
        return not missing

    async def fetch(self, animal: str) -> None:
        """Look an animal up, and all that it turned out to be, unless it is at hand."""
        who = self._book.find(animal)
        if who is None or self._is_at_hand(animal):
            return
        group = self._book.group(animal)
        tags = sorted({tag.id for tag in who.tags})
        await self._fetch(group, group, tags)

    async def _fetch(self, names: Sequence[str], animals: Sequence[str], tags: Sequence[str]) -> None:
        """Look up what these animals and tags were in; `names`: by what they are kept.

        A tag that is nobody's may be of one whose weighing was struck out before it was known: it may have had a dose.
        """
        self._known.update(dict.fromkeys(names))
        while len(self._known) > PASTS_KEPT + len(names):
            self.past.forget(self._known.popitem(last=False)[0])
        try:
            for event in await self._journal.weighings(animals=animals, tags=tags):
                self.past.add(event)
        except BaseException:
            for one in names:
                self._known.pop(one, None)  # looked up again when it is next heard
            raise

    async def of_left(self, stays: Iterable[Weighing]) -> None:
        """Look up the animals of the stays that the last run left open, before these are told."""
        for tag in [one.tag.id for one in stays if one.tag is not None]:
            who = self._book.by_tag(tag)
            await (self.fetch(who.animal) if who is not None else self._fetch((tag,), (), (tag,)))

    async def weighing(self, station: str, about: About) -> Weighing | None:
        """Return the newest revision of a weighing, whatever is still on its way to the card included."""
        await self._journal.append()
        return await self._journal.weighing(station, weighing=about.weighing, number=about.number)

    def add(self, event: Event) -> None:
        """Take what has just become of an animal."""
        self.past.add(event)
