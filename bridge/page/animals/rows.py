"""The animals of one job or day for a phone, all of them in short; one of them whole; and what was said of it."""

import json
from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from neckyoke.bridge.asking.requests import ASKED
from neckyoke.bridge.events import Weighing
from neckyoke.bridge.page.doors import Memory
from neckyoke.bridge.page.guard import refuse
from neckyoke.bridge.page.look import Looking

NAME_MAX = 64


class Rows:
    """Answers what is asked of weighings."""

    def __init__(self, looking: Looking, journal: Memory) -> None:
        self._looking, self._journal = looking, journal

    def routes(self) -> list[Route]:
        """List what can be looked at."""
        return [
            Route("/rows", self.rows),
            Route("/weighings/{station}/{weighing}", self.weighing),
            Route("/changes", self.changes),
        ]

    async def rows(self, request: Request) -> Response:
        """Return all animals of one job (`job=last`) or one day, each in short, the first weighed first."""
        found = await self._looking.meant(request)
        if isinstance(found, Response):
            return found
        return JSONResponse({"rows": [_short(event.data) for event in found if isinstance(event.data, Weighing)]})

    async def weighing(self, request: Request) -> Response:
        """Return one weighing as it stands now."""
        station, name = request.path_params["station"], request.path_params["weighing"]
        data = await self._journal.weighing(station, weighing=name) if len(name) <= NAME_MAX else None
        if data is None or data.weighing != name:
            return refuse(404, "There is no such weighing.")
        return JSONResponse(data.model_dump(mode="json"))

    async def changes(self, request: Request) -> Response:
        """Return what was asked of one weighing (`weighing`) or animal (`animal`) of late and stands, the latest first.

        Each can be taken back by its `asked`.
        """
        names = {request.query_params.get(key) for key in ("weighing", "animal")} - {None, ""}
        told = [json.loads(body) for key, body in (await self._journal.kept("value")).items() if key.startswith(ASKED)]
        told.sort(key=lambda one: -one["turn"])
        gone = {
            one["request"].get("asked") for one in told if one["request"]["kind"] == "undo" and one["answer"]["done"]
        }
        stand = [
            {"asked": asked, "time": one["time"], "kind": one["request"]["kind"], "text": one["answer"]["text"]}
            for one in told
            if (asked := one["answer"].get("asked")) and asked not in gone and names & _about(one)
        ]
        return JSONResponse({"changes": stand})


def _about(told: Mapping[str, Any]) -> set[str]:
    """Return the ids of the weighing and the animal that something asked was about."""
    request, answer = told["request"], told["answer"]
    return {name for name in (request.get("weighing"), answer.get("weighing"), request.get("animal")) if name}


def _short(one: Weighing) -> dict[str, Any]:
    return {
        "weighing": one.weighing,
        "revision": one.revision,
        "station": one.station,
        "number": one.number,
        "job": one.job,
        "job_number": one.job_number,
        "kg": one.weight.kg,
        "grade": one.weight.grade,
        "visual": (one.animal or {}).get("visual"),
        "tag": one.tag.id if one.tag else None,
        "pen": one.pen,
        "flags": list(one.flags),
        "notes": list(one.notes),
    }
