"""Events by HTTP, as the CloudEvents HTTP protocol binding 1.0.2 has them, in the mode that the far side takes.

structured   a request an event: the whole event as JSON (application/cloudevents+json)
binary       a request an event: its data as the body, its attributes as headers ce-…
batch        a request for many: a JSON array (application/cloudevents-batch+json)
"""

import json
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from neckyoke.bridge.outlets.taker import FarSide, Row, Taken, all_of
from neckyoke.bridge.outlets.web.client import Client, judge

TOO_LARGE = 413
BATCH = 50
"""Events in a request: far below the 64 KiB an event that intermediaries must forward, each of one or two."""
PLAIN = " !#$&'()*+,-./:;<=>?@[]^_`{|}~"
"""What stands in a header as it is (binding 3.1.3.2): all printable ASCII but the quote and the percent sign."""


class CloudEvents(FarSide):
    """Takes events by POST."""

    kind = "http"
    batch = BATCH

    def __init__(self, client: Client, mode: str) -> None:
        self._client, self._mode, self.where = client, mode, client.where

    async def take(self, rows: Sequence[Row]) -> Taken:
        """Post the events in order."""
        if self._mode == "batch":
            async for one in self._take_batch(rows):
                yield one
            return
        for sequence, body in rows:
            headers, data = structured(body) if self._mode == "structured" else binary(body)
            yield sequence, "" if await self._post(headers, data) else self._too_large(data)

    async def try_out(self, body: str) -> None:
        """Post a test event; its text says that it is one."""
        await all_of(self.take([(0, body)]))

    async def _take_batch(self, rows: Sequence[Row]) -> Taken:
        """Post all at once; what is too large in halves, down to the one that is too large alone."""
        data = f"[{','.join(body for _, body in rows)}]".encode()
        if await self._post({"Content-Type": "application/cloudevents-batch+json; charset=utf-8"}, data):
            for sequence, _ in rows:
                yield sequence, ""
        elif len(rows) == 1:
            yield rows[0][0], self._too_large(data)
        else:
            half = len(rows) // 2
            for part in (rows[:half], rows[half:]):
                async for one in self._take_batch(part):
                    yield one

    async def _post(self, headers: dict[str, str], data: bytes) -> bool:
        """Post one body: False when it is too large."""
        answer = await self._client.post(data, headers)
        if answer.status == TOO_LARGE:
            return False
        judge(answer, self._client.where)
        return True

    def _too_large(self, data: bytes) -> str:
        return f"its {len(data)} bytes are too large for {self._client.where}"

    async def close(self, *, stopped: bool) -> None:  # noqa: ARG002
        """Hang up."""
        await self._client.close()


def structured(body: str) -> tuple[dict[str, str], bytes]:
    """Spell an event as a request in structured mode: headers and body."""
    return {"Content-Type": "application/cloudevents+json; charset=utf-8"}, body.encode()


def binary(body: str) -> tuple[dict[str, str], bytes]:
    """Spell an event as a request in binary mode: headers and body."""
    event: dict[str, Any] = json.loads(body)
    data = event.pop("data")
    headers = {"Content-Type": event.pop("datacontenttype")}
    headers |= {f"ce-{name}": quote(_spelled(value), safe=PLAIN) for name, value in event.items() if value is not None}
    return headers, json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode()


def _spelled(value: Any) -> str:
    return ("true" if value else "false") if isinstance(value, bool) else str(value)
