"""Looks animals up in the journal in good time.

The job asks for an animal's past while it stands there, and cannot wait for a card to answer.  So it is looked up
when its tag is first heard, seconds before it is needed; what becomes of it is kept up from then on.
"""

import asyncio
from collections import OrderedDict

from neckyoke.bridge.events import Event, Weighing
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.station.instructions import About

PASTS_KEPT = 1000
"""Animals whose past is at hand; the one not heard for longest is let go, and looked up again when it is heard."""


class Lookup:
    """The pasts of the animals heard of late."""

    def __init__(self, journal: Journal) -> None:
        self.past = Past()
        self._journal = journal
        self._known: OrderedDict[str, None] = OrderedDict()
        self._looking: set[asyncio.Task[None]] = set()

    def heard(self, tag: str) -> None:
        """Look an animal up, without waiting for it."""
        task = asyncio.create_task(self.fetch(tag))
        self._looking.add(task)
        task.add_done_callback(self._looking.discard)

    async def fetch(self, tag: str) -> None:
        """Look an animal up, unless it is known."""
        known = tag in self._known
        self._known[tag] = None
        self._known.move_to_end(tag)
        if known:
            return
        if len(self._known) > PASTS_KEPT:
            self.past.forget(self._known.popitem(last=False)[0])
        for event in await self._journal.weighings(tag=tag):
            self.past.add(event)

    async def weighing(self, station: str, about: About) -> Weighing | None:
        """Return the newest revision of a weighing, whatever is still on its way to the card included."""
        await self._journal.append()
        return await self._journal.weighing(station, weighing=about.weighing, number=about.number)

    def add(self, event: Event) -> None:
        """Take what has just become of an animal."""
        self.past.add(event)
