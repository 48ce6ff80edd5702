"""Doing: a request from a phone, let in by the gate, checked, and put to the daemon."""

import asyncio

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from neckyoke.bridge.asking.requests import LARGEST_SHEET, Refusal, parse_request
from neckyoke.bridge.page.doors import Ask
from neckyoke.bridge.page.guard import Gate, refuse

BODY_S = 60.0
"""Seconds a request's body may take."""


class Asking:
    """Answers POST.  200 done; 409 not done, and why; 4xx no request, or not let in."""

    def __init__(self, gate: Gate, ask: Ask) -> None:
        self._gate, self._ask = gate, ask

    def routes(self) -> list[Route]:
        """List what can be asked."""
        return [Route("/requests", self.request, methods=["POST"]), Route("/code", self.code, methods=["POST"])]

    async def code(self, request: Request) -> Response:
        """Return whether the phone's access code is the right one; changes nothing."""
        return await self._gate.refusal(request.scope) or JSONResponse({"done": True, "text": "That is the code."})

    async def request(self, request: Request) -> Response:
        """Put a request to the daemon and return its answer."""
        if refusal := await self._gate.refusal(request.scope):
            return refusal
        if request.headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
            return refuse(415, "A request is sent as application/json.")
        try:
            async with asyncio.timeout(BODY_S):
                body = await _body(request)
        except TimeoutError:
            return refuse(408, "The request did not come whole.")
        if body is None:
            return refuse(413, f"A request has at most {LARGEST_SHEET} bytes.")
        asked = parse_request(body)
        if isinstance(asked, Refusal):
            return JSONResponse(asked.answer().model_dump(exclude_none=True), 413 if asked.too_large else 422)
        answer = await self._ask(asked.model_dump(exclude_none=True))
        return JSONResponse(answer, 200 if answer.get("done") else 409)


async def _body(request: Request) -> bytes | None:
    """Read the body; None when it is too large, read no further than that."""
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > LARGEST_SHEET:
            return None
    return body
