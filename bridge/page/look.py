"""Looking: what is there now, one animal's history, the day's tally and export, and health for machines."""

import asyncio
import io
import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from neckyoke.bridge.events import FLAG_TEXT, Weighing
from neckyoke.bridge.page.doors import AskStatus, Events
from neckyoke.bridge.page.guard import refuse
from neckyoke.bridge.reports.export import Style, standing, write_csv, write_json_lines
from neckyoke.bridge.reports.show import as_json
from neckyoke.bridge.reports.tally import tally as count_up
from neckyoke.bridge.telling import openmetrics
from neckyoke.bridge.telling.status import Status

FIRST_DAY, LAST_DAY = date(1970, 1, 1), date(9999, 1, 1)
STUCK = "journal-stuck"
"""The journal's trouble while it cannot be written (bridge/journal/journal.py)."""
LAST_FEW = 30
"""Weighings that a phone is given to begin with."""
DAY_AND_STATION = "A day is written 2026-11-24, a station as in the configuration."
HISTORY_MAX = 200
"""Weighings of one animal that are shown."""


def brief(status: Status) -> dict[str, Any]:
    """Take from the daemon's status what a phone shows; it changes seldom, so that phones are told seldom."""
    shown: dict[str, set[str]] = {
        "stations": {"job", "counts", "sheet", "treatments", "findings", "places", "sheets"},
        "links": {"state", "text", "stations"},
        "outlets": {"kind", "connected", "backlog", "trouble"},
    }
    return {
        **status.model_dump(mode="json", include={"site", "troubles"}),
        **status.model_dump(mode="json", include={name: {"__all__": keys} for name, keys in shown.items()}),
        "clock": status.clock.state,
    }


def healthy(status: Status) -> bool:
    """Return whether the daemon does its work: its journal is written.  A lost link is a trouble, not ill health."""
    return STUCK not in status.journal.trouble


class Looking:
    """Answers what only looks.  `now` is the box's own clock, aware: its date is what "today" means."""

    def __init__(self, journal: Events, status: AskStatus, now: Callable[[], datetime]) -> None:
        self._journal, self._status, self._now = journal, status, now

    def routes(self) -> list[Route]:
        """List what can be looked at."""
        return [
            Route("/now", self.now),
            Route("/animals/{tag}", self.animal),
            Route("/tally", self.tally),
            Route("/export.csv", self.export),
            Route("/export.jsonl", self.export),
            Route("/health", self.health),
            Route("/metrics", self.metrics),
        ]

    async def now(self, _: Request) -> Response:
        """Return all that a phone needs to begin; its stream goes on after `sequence`."""
        sequence = self._journal.last  # before the rows: what comes in between is told twice, not missed
        status = self._status()
        rows = await self._journal.weighings(limit=LAST_FEW)
        return JSONResponse(
            {
                "sequence": sequence,
                "state": brief(status),
                "views": {name: row.view.model_dump(mode="json") for name, row in status.stations.items()},
                "weighings": _bodies(rows),
                "flags": FLAG_TEXT,
            }
        )

    async def animal(self, request: Request) -> Response:
        """Return one animal's weighings by its tag, latest first."""
        tag = request.path_params["tag"]
        if not re.fullmatch(r"[0-9]{15,16}", tag):
            return refuse(400, "A tag is 15 digits, such as 999000000112233.")
        rows = _bodies(await self._journal.weighings(tag=tag, limit=HISTORY_MAX))
        return JSONResponse({"tag": tag, "weighings": rows[::-1]}) if rows else refuse(404, "Not weighed here yet.")

    async def tally(self, request: Request) -> Response:
        """Return one day counted up, of one station or of all."""
        asked = self._asked(request)
        if asked is None:
            return refuse(400, DAY_AND_STATION)
        day, station = asked
        rows = await self._rows(day)
        counted = await asyncio.to_thread(lambda: count_up(rows, station=station))
        return JSONResponse({"day": day.isoformat(), "station": station, **as_json(counted)})

    async def export(self, request: Request) -> Response:
        """Return one day's weighings as a file to keep: CSV or JSON Lines."""
        asked = self._asked(request)
        if asked is None:
            return refuse(400, DAY_AND_STATION)
        day, station = asked
        kind = request.url.path.rpartition(".")[2]
        rows = [row for row in _bodies(await self._rows(day)) if station in {None, row["station"]}]
        text = await asyncio.to_thread(_csv if kind == "csv" else _json_lines, rows, self._now())
        name = f"weighings-{station or 'all'}-{day.isoformat()}.{kind}"
        media = "text/csv" if kind == "csv" else "application/x-ndjson"
        return Response(text, media_type=media, headers={"content-disposition": f'attachment; filename="{name}"'})

    def _asked(self, request: Request) -> tuple[date, str | None] | None:
        """Read which day and station are meant; None when either is none."""
        station = request.query_params.get("station") or None
        try:
            day = date.fromisoformat(request.query_params.get("day") or self._now().date().isoformat())
        except ValueError:
            return None
        known = station is None or re.fullmatch(r"[a-z0-9][a-z0-9_-]{0,31}", station)
        return (day, station) if known and FIRST_DAY < day < LAST_DAY else None

    async def _rows(self, day: date) -> Any:
        """Return the weighings of one day by the box's clock."""
        begin = datetime.combine(day, time(), self._now().tzinfo)
        return await self._journal.weighings(since=begin, until=begin + timedelta(days=1))

    async def meant(self, request: Request) -> Any:
        """Return the weighings that are asked for, or the answer that refuses to."""
        asked = self._asked(request)
        if asked is None:
            return refuse(400, DAY_AND_STATION)
        return [event for event in await self._rows(asked[0]) if asked[1] in {None, event.data.station}]

    async def health(self, _: Request) -> Response:
        """Return whether the daemon does its work, with the reasons when it does not."""
        status = self._status()
        good = healthy(status)
        body = {"healthy": good, **status.model_dump(mode="json", include={"troubles", "journal"})}
        return JSONResponse(body, 200 if good else 503)

    async def metrics(self, _: Request) -> Response:
        """Return the figures for a monitor."""
        return Response(openmetrics.write(self._status()), media_type=openmetrics.CONTENT_TYPE)


def _bodies(rows: Any) -> list[dict[str, Any]]:
    return [event.data.model_dump(mode="json") for event in rows if isinstance(event.data, Weighing)]


def _csv(rows: list[dict[str, Any]], now: datetime) -> str:
    out = io.StringIO(newline="")
    write_csv(standing(rows), out, style=Style(zone=now.tzinfo or UTC))
    return out.getvalue()


def _json_lines(rows: list[dict[str, Any]], _: datetime) -> str:
    out = io.StringIO()
    write_json_lines(standing(rows), out)
    return out.getvalue()
