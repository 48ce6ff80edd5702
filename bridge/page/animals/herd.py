"""The herd book for a phone: who fits what was typed, and one animal's story."""

import asyncio
import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from neckyoke.bridge.animal_event import Animal
from neckyoke.bridge.events import Event, Weighing
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.page.animals.finding import Finder
from neckyoke.bridge.page.doors import Events
from neckyoke.bridge.page.guard import refuse
from neckyoke.bridge.reports.paper.animal_page import animal_picture

PAGE = 40
"""Animals in one answer."""
TYPED_MAX = 64
STORY_MAX = 200
"""Weighings of one animal that are shown."""


class Herd:
    """Answers what is asked of the herd book.  `now` is the box's clock, in its own zone."""

    def __init__(self, book: Book, journal: Events, now: Callable[[], datetime]) -> None:
        self._book, self._journal, self._now = book, journal, now
        self._finder = Finder(book)
        self._renewing = asyncio.Lock()

    def routes(self) -> list[Route]:
        """List what can be looked at."""
        return [Route("/herd", self.search), Route("/herd/{animal}", self.story)]

    async def search(self, request: Request) -> Response:
        """Return the animals that fit what was typed, a page of them, and how many there are in all."""
        typed = request.query_params.get("find", "")
        start = request.query_params.get("from", "0")
        if len(typed) > TYPED_MAX or not (start.isascii() and start.isdecimal() and len(start) < 8):
            return refuse(400, f"find has at most {TYPED_MAX} letters, from is a number.")
        await self._renew()
        names, count = self._finder.find(typed, int(start), PAGE)
        rows = [_short(one) for name in names if (one := self._book.find(name)) is not None]
        return JSONResponse({"find": typed, "from": int(start), "count": count, "animals": rows})

    async def _renew(self) -> None:
        async with self._renewing:
            for _ in self._finder.renew():
                await asyncio.sleep(0)

    async def story(self, request: Request) -> Response:
        """Return all that is known of one animal by its id, its weighings, the latest first, and its line as SVG.

        With `tag`, an animal that the book does not know yet is one of that tag's weighings.
        """
        one, tag = self._book.find(request.path_params["animal"]), request.query_params.get("tag", "")
        if one is None and re.fullmatch(r"[0-9]{15,16}", tag):
            events = await self._journal.weighings(tag=tag, limit=STORY_MAX)
            return JSONResponse({"animal": None, "weighings": [_whole(event) for event in reversed(events)]})
        if one is None:
            return refuse(404, "The herd book has no such animal.")
        group, tags = self._book.group(one.animal), sorted({tag.id for tag in one.tags})
        events = await self._journal.weighings(animals=group, tags=tags, limit=STORY_MAX)
        mine = [_whole(event) for event in events if isinstance(event.data, Weighing) and self._is_of(event.data, one)]
        line = await asyncio.to_thread(animal_picture, mine, one.marks, self._now().tzinfo or UTC) if mine else None
        animal = {**one.model_dump(mode="json"), "id": one.animal, "visual": one.visual, "tag": one.tag}
        return JSONResponse({"animal": animal, "weighings": mine[::-1], "line": line})

    def _is_of(self, data: Weighing, animal: Animal) -> bool:
        """Return whether a weighing is this animal's: by its id, else by the tag that it wore then."""
        known = (data.animal or {}).get("id")
        if known is not None:
            return self._book.root(known) == animal.animal
        owner = self._book.by_tag(data.tag.id, at=data.on) if data.tag else None
        return owner is not None and owner.animal == animal.animal


def _whole(event: Event) -> dict[str, Any]:
    return event.data.model_dump(mode="json")


def _short(one: Animal) -> dict[str, Any]:
    marks = [{"text": mark.text} for mark in one.marks]
    return {"id": one.animal, "visual": one.visual, "tag": one.tag, "marks": marks}
