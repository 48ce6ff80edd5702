"""The papers of one job or day, to hand over: the report and its pictures, and the register of doses."""

import asyncio
import io
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, tzinfo
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from neckyoke.bridge.events import Event, Weighing
from neckyoke.bridge.page.animals.growing import Growing
from neckyoke.bridge.page.chosen import choose
from neckyoke.bridge.page.doors import AskStatus
from neckyoke.bridge.page.look import Looking
from neckyoke.bridge.reports.doses.register import HEADINGS, doses, for_csv, register_page
from neckyoke.bridge.reports.drawn import PICTURES
from neckyoke.bridge.reports.export import Style
from neckyoke.bridge.reports.page_report import html
from neckyoke.bridge.reports.paper.about import About
from neckyoke.bridge.reports.pictures.mob_growth import Spread
from neckyoke.bridge.reports.spreadsheet import write_rows
from neckyoke.bridge.reports.tally import tally

Rows = list[dict[str, Any]]


class Papers:
    """Answers with papers.  `now` is the box's clock, in its own zone; `place` the property, else the site is named."""

    def __init__(
        self,
        looking: Looking,
        status: AskStatus,
        now: Callable[[], datetime],
        growing: Growing,
        place: str | None = None,
    ) -> None:
        self._looking, self._status, self._now, self._place = looking, status, now, place
        self._growing = growing

    def routes(self) -> list[Route]:
        """List what can be had."""
        return [
            Route("/pictures", self.pictures),
            Route("/report.html", self.report),
            Route("/register.html", self.register_page),
            Route("/register.csv", self.register),
        ]

    async def pictures(self, request: Request) -> Response:
        """Return the pictures of one job or day as SVG, by name: those of the report."""
        events = await self._looking.meant(request)
        if isinstance(events, Response):
            return events
        _, growth = await self._mob(request, events)
        return JSONResponse(await asyncio.to_thread(_drawn, events, growth))

    async def report(self, request: Request) -> Response:
        """Return the printable page of one job or day."""
        events = await self._looking.meant(request)
        if isinstance(events, Response):
            return events
        status = self._status()
        chosen = choose(request.query_params, status, self._now())
        job = None if isinstance(chosen, str) else chosen.job
        station = None if isinstance(chosen, str) else chosen.station
        mob, growth = await self._mob(request, events)
        about = About(self._place or status.site, mob, station, job.turn if job else None)
        return await self._paper(
            request, "text/html", lambda events, zone: html(tally(events), zone=zone, about=about, growth=growth)
        )

    async def _mob(self, request: Request, events: Sequence[Event]) -> tuple[str | None, list[Spread]]:
        """Return the mob of the job that is looked at, and how it grew."""
        now = self._now()
        chosen = choose(request.query_params, self._status(), now)
        assert not isinstance(chosen, str), "it was chosen"
        assert now.tzinfo is not None, "the box's clock is aware"
        return await self._growing.mob(chosen), await self._growing.of(chosen, events, now.tzinfo)

    async def register_page(self, request: Request) -> Response:
        """Return every dose as a printable page."""
        turns = self._looking.turns
        return await self._paper(
            request, "text/html", lambda events, zone: register_page(list(doses(_data(events), zone, turns=turns)))
        )

    async def register(self, request: Request) -> Response:
        """Return every dose as CSV."""
        turns = self._looking.turns
        return await self._paper(request, "text/csv", lambda events, zone: _register(events, zone, turns))

    async def _paper(self, request: Request, media: str, write: Callable[[Sequence[Event], tzinfo], str]) -> Response:
        events = await self._looking.meant(request)
        if isinstance(events, Response):
            return events
        now = self._now()
        zone = now.tzinfo
        assert zone is not None, "the box's clock is aware"
        chosen = choose(request.query_params, self._status(), now)
        assert not isinstance(chosen, str), "it was chosen"
        kind, _, ending = request.url.path.rpartition("/")[2].rpartition(".")
        text = await asyncio.to_thread(write, events, zone)
        headers = {"content-disposition": f'attachment; filename="{kind}-{chosen.name}.{ending}"'}
        return Response(text, media_type=media, headers=headers)


def _drawn(events: Sequence[Event], growth: Sequence[Spread]) -> dict[str, str]:
    counted = tally(events)
    return {name: draw(counted, growth) for name, draw in PICTURES.items() if name != "mob" or growth}


def _data(events: Sequence[Event]) -> Rows:
    return [event.data.model_dump(mode="json") for event in events if isinstance(event.data, Weighing)]


def _register(events: Sequence[Event], zone: tzinfo, turns: Mapping[str, int]) -> str:
    out = io.StringIO(newline="")
    write_rows(HEADINGS, (for_csv(one.as_dict()) for one in doses(_data(events), zone, turns=turns)), out, Style())
    return out.getvalue()
