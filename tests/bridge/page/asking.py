"""Asks the page over a plain socket, as a program or an attacker would."""

import http.client
import json
from dataclasses import dataclass
from typing import Any

from tests.bridge.page.yard import CODE, Yard


@dataclass(frozen=True)
class Answered:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)


def ask(
    yard: Yard, method: str, path: str, body: bytes | None = None, headers: dict[str, str] | None = None,
    *, code: str | None = CODE, whence: str = "127.0.0.1",
) -> Answered:  # fmt: skip
    """Send one request from an address and give its answer; with the code, unless it is None."""
    line = http.client.HTTPConnection("127.0.0.1", yard.port, timeout=120, source_address=(whence, 0))
    try:
        given = {"x-neckyoke-code": code} if code is not None else {}
        line.request(method, path, body, given | (headers or {}))
        answer = line.getresponse()
        return Answered(answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read())
    finally:
        line.close()


def post(yard: Yard, request: Any, code: str | None = CODE, *, whence: str = "127.0.0.1", **headers: str) -> Answered:
    """Ask for something as the page does."""
    given = {"content-type": "application/json"}
    given |= {name.replace("_", "-"): value for name, value in headers.items()}
    return ask(yard, "POST", "/requests", json.dumps(request).encode(), given, code=code, whence=whence)
