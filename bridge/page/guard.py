"""What stands in front of every answer: is the host ours, is the asker too quick, and the headers that browsers obey.

A page of another site must not work the yard through somebody's phone.  Against that:
- the Host header must name this box (an address, its own name, or one from the configuration), so that a foreign name
  that was pointed at this address (DNS rebinding) gets nothing;
- a request carries the access code in a header of our own, which a foreign page cannot send without being allowed
  to by a preflight, and none is ever allowed;
- Origin, where a browser sends it, must be this very page, and Sec-Fetch-Site must not say otherwise.
"""

import asyncio
import ipaddress
import re
import socket
import time
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from neckyoke.bridge.page import access

CODE_HEADER = "x-neckyoke-code"

HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; "
        "manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}
"""On every answer; no inline script or style, nothing from elsewhere, nothing kept."""
SPELLED = tuple((name.encode(), value.encode()) for name, value in HEADERS.items())

ADDRESSES_KEPT = 1024
BODY_MAX = 16384
"""Bytes of one request's body, as everywhere (neckyoke.bridge.asking.requests)."""


def refuse(status: int, text: str, **headers: str) -> Response:
    """Return a refusal with its reason, in the shape of an answer to a request."""
    return JSONResponse(
        {"done": False, "text": text}, status, {name.replace("_", "-"): v for name, v in headers.items()}
    )


class Allowance:
    """So many at once, then so many a second: a token bucket for each asker (the longest unseen is forgotten)."""

    def __init__(self, at_once: int, per_s: float, now: Callable[[], float] = time.monotonic) -> None:
        self._at_once, self._per_s, self._now = at_once, per_s, now
        self._askers: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def left(self, asker: str) -> float:
        """How many the asker may have now."""
        tokens, since = self._askers.get(asker, (float(self._at_once), self._now()))
        return min(self._at_once, tokens + (self._now() - since) * self._per_s)

    def spent(self, asker: str) -> bool:
        """Whether the asker has used any lately."""
        return self.left(asker) < self._at_once

    def take(self, asker: str) -> bool:
        """Use one up; False when there is none."""
        left = self.left(asker)
        taken = left >= 1
        self._askers[asker] = (left - taken, self._now())
        self._askers.move_to_end(asker)
        if len(self._askers) > ADDRESSES_KEPT:
            self._askers.popitem(last=False)
        return taken

    def wait_s(self, asker: str) -> int:
        """Whole seconds until there is one."""
        return max(1, round((1 - self.left(asker)) / self._per_s + 0.5))


def own_names(listen_host: str, extra: Iterable[str] = ()) -> frozenset[str]:
    """List the names this box goes by; addresses need no list."""
    name = socket.gethostname().lower()
    return frozenset({"localhost", listen_host.lower(), name, f"{name}.local", *(host.lower() for host in extra)})


def known_host(header: str | None, names: frozenset[str]) -> bool:
    """Return whether a Host header names this box.  An address cannot have been rebound, so any will do."""
    found = re.fullmatch(r"(\[[0-9a-fA-F:.]{2,45}\]|[A-Za-z0-9.\-_]{1,253})(?::[0-9]{1,5})?", header or "")
    if found is None:
        return False
    host = found[1].strip("[]").rstrip(".").lower()
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return host in names
    return True


def same_origin(headers: Mapping[str, str]) -> bool:
    """Return whether a request comes from this very page, or from a program that is no browser."""
    origin, host = headers.get("origin"), headers.get("host", "")
    if headers.get("sec-fetch-site", "same-origin") != "same-origin":
        return False
    return origin is None or origin.lower() in {f"http://{host}".lower(), f"https://{host}".lower()}


class Front:
    """Wraps the whole application: host, pace, headers."""

    def __init__(self, app: ASGIApp, names: frozenset[str], pace: Allowance) -> None:
        self._app, self._names, self._pace = app, names, pace

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what may pass."""
        if scope["type"] != "http":
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = message.get("headers", [])
                there = {name for name, _ in own}
                message["headers"] = [*own, *(one for one in SPELLED if one[0] not in there)]
            await send(message)

        app: ASGIApp = self._app
        if not known_host(Headers(scope=scope).get("host"), self._names):
            text = "This box does not go by that name. Use its address, or add the name to hosts under [page].\n"
            app = PlainTextResponse(text, 421)
        elif not self._pace.take(asker(scope)):
            app = refuse(429, "Too many at once; wait a moment.", retry_after=str(self._pace.wait_s(asker(scope))))
        await app(scope, receive, with_headers)


def asker(scope: Scope) -> str:
    """Name who asks, for counting: the address."""
    client = scope.get("client")
    return str(client[0]) if client else "?"


class Gate:
    """Decides whether a request may change something, or look at more than *now*: same origin, pace, code.

    Each try of a code counts, before it is known to be wrong, against its address.  Addresses that got one wrong lately
    also share a small allowance, and those that have not tried share a larger one, so that somebody who guesses, even
    from many addresses, neither finds the code nor keeps its owner out.  Who gave the right code shares with none.
    """

    def __init__(self, held: access.Access, now: Callable[[], float] = time.monotonic) -> None:
        self._held = held
        self._pace, self._looks = Allowance(10, 2.0, now), Allowance(60, 10.0, now)
        self._tries = Allowance(5, 5 / 600, now)
        self._of_guessers = Allowance(10, 30 / 3600, now)
        self._of_newcomers = Allowance(20, 600 / 3600, now)
        self._knows: OrderedDict[str, None] = OrderedDict()
        self._one_at_a_time = asyncio.Lock()

    def behind(self, route: Route) -> Route:
        """Let nobody look at what a route shows but who knows the code."""

        async def shown(request: Request) -> Response:
            answer: Response = await self.refusal(request.scope, looks=True) or await route.endpoint(request)
            return answer

        return Route(route.path, shown)

    async def refusal(self, scope: Scope, *, looks: bool = False) -> Response | None:
        """Return the answer that turns a request away, or None to let it in; who only looks may do so more often."""
        headers, who = Headers(scope=scope), asker(scope)
        pace = self._looks if looks else self._pace
        if not same_origin(headers):
            return refuse(403, "Only this box's own page may ask.")
        if not pace.take(who):
            return refuse(429, "Too many requests; wait a moment.", retry_after=str(pace.wait_s(who)))
        code = access.plain(headers.get(CODE_HEADER, ""))
        if code is None:
            return refuse(401, "Type the access code first: nine digits.", www_authenticate="Neckyoke-Code")
        if self._held.remembered(code):
            self._remember(who)
            return None
        if not self._held.there:
            return refuse(403, "No access code has been made yet. On the box, run: neckyoke page code")
        async with self._one_at_a_time:
            return None if self._held.remembered(code) else await self._try(code, who)

    async def _try(self, code: str, who: str) -> Response | None:
        """Check a code that this process has not found right before."""
        shared = self._of_guessers if self._tries.spent(who) else self._of_newcomers
        for limit, name in ((self._tries, who), *([] if who in self._knows else [(shared, "")])):
            if not limit.take(name):
                wait = limit.wait_s(name)
                return refuse(429, f"Too many wrong codes. Wait {wait} s.", retry_after=str(wait))
        if await asyncio.to_thread(self._held.check, code):
            self._remember(who)
            return None
        text = "That is not the code. On the box, neckyoke page code --new makes another."
        return refuse(401, text, www_authenticate="Neckyoke-Code")

    def _remember(self, who: str) -> None:
        self._knows[who] = None
        self._knows.move_to_end(who)
        if len(self._knows) > ADDRESSES_KEPT:
            self._knows.popitem(last=False)
