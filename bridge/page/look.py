"""Looking: what is there now, one animal's history, the day's tally and export, and health for machines."""

import asyncio
import io
import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from neckyoke.bridge.events import FLAG_TEXT, Event, Weighing
from neckyoke.bridge.page.chosen import Chosen, choose, jobs_of
from neckyoke.bridge.page.doors import AskStatus, Events
from neckyoke.bridge.page.guard import refuse
from neckyoke.bridge.reports.export import Style, standing, write_csv, write_json_lines
from neckyoke.bridge.reports.show import as_json
from neckyoke.bridge.reports.tally import tally as count_up
from neckyoke.bridge.telling import openmetrics
from neckyoke.bridge.telling.status import Status

STUCK = "journal-stuck"
"""The journal's trouble while it cannot be written (bridge/journal/journal.py)."""
LAST_FEW = 30
"""Weighings that a phone is given to begin with."""
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
            Route("/jobs", self.jobs),
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

    async def jobs(self, request: Request) -> Response:
        """Return the jobs at hand, of one station or of all, in the order in which they began."""
        there = jobs_of(self._status(), request.query_params.get("station") or None)
        return JSONResponse({"jobs": [{"station": at, **job.model_dump(mode="json")} for at, job in there]})

    async def tally(self, request: Request) -> Response:
        """Return one job or one day counted up, of one station or of all."""
        chosen = choose(request.query_params, self._status(), self._now())
        if isinstance(chosen, str):
            return refuse(_status_of(request), chosen)
        rows = await self._rows(chosen)
        counted = await asyncio.to_thread(lambda: count_up(rows))
        told = {"day": chosen.day and chosen.day.isoformat(), "station": chosen.station}
        job = chosen.job.model_dump(mode="json") if chosen.job else None
        return JSONResponse({**told, "job": job, **as_json(counted)})

    async def export(self, request: Request) -> Response:
        """Return one job's or one day's weighings as a file to keep: CSV or JSON Lines."""
        chosen = choose(request.query_params, self._status(), self._now())
        if isinstance(chosen, str):
            return refuse(_status_of(request), chosen)
        kind = request.url.path.rpartition(".")[2]
        rows = _bodies(await self._rows(chosen))
        style = Style(zone=self._now().tzinfo or UTC, turns=self.turns)
        text = await asyncio.to_thread(_csv if kind == "csv" else _json_lines, rows, style)
        name = f"weighings-{chosen.name}.{kind}"
        media = "text/csv" if kind == "csv" else "application/x-ndjson"
        return Response(text, media_type=media, headers={"content-disposition": f'attachment; filename="{name}"'})

    @property
    def turns(self) -> dict[str, int]:
        """Each job's number by its id."""
        return {job.job: job.turn for _, job in jobs_of(self._status(), None)}

    async def _rows(self, chosen: Chosen) -> list[Event]:
        """Return the weighings that are meant."""
        rows = await self._journal.weighings(since=chosen.since, until=chosen.until)
        return [event for event in rows if isinstance(event.data, Weighing) and chosen.has(event.data)]

    async def meant(self, request: Request) -> list[Event] | Response:
        """Return the weighings that are asked for, or the answer that refuses to."""
        chosen = choose(request.query_params, self._status(), self._now())
        return refuse(_status_of(request), chosen) if isinstance(chosen, str) else await self._rows(chosen)

    async def health(self, _: Request) -> Response:
        """Return whether the daemon does its work, with the reasons when it does not."""
        status = self._status()
        good = healthy(status)
        body = {"healthy": good, **status.model_dump(mode="json", include={"troubles", "journal"})}
        return JSONResponse(body, 200 if good else 503)

    async def metrics(self, request: Request) -> Response:
        """Return the figures for a monitor."""
        text, kind = openmetrics.told(self._status(), request.headers.get("accept", ""))
        return Response(text, media_type=kind)


def _status_of(request: Request) -> int:
    """Return the status of a refusal: a job may be right and not there, all else is written wrong."""
    return 404 if request.query_params.get("job") else 400


def _bodies(rows: Any) -> list[dict[str, Any]]:
    return [event.data.model_dump(mode="json") for event in rows if isinstance(event.data, Weighing)]


def _csv(rows: list[dict[str, Any]], style: Style) -> str:
    out = io.StringIO(newline="")
    write_csv(standing(rows), out, style=style)
    return out.getvalue()


def _json_lines(rows: list[dict[str, Any]], _: Style) -> str:
    out = io.StringIO()
    write_json_lines(standing(rows), out)
    return out.getvalue()
