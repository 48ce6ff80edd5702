r"""Weighings as InfluxDB line protocol, by POST: a point a weighing, at the moment it ended.

    neckyoke_weighing,site=larkmoor,station=crush kg=318.5,tag="999…",grade="good",… 1795832269412

A point with the same tags and time takes the place of the one before, so repeats fall away and an amendment corrects;
`voided` says that it was struck out, and `revision` which word it is.  Source: the line protocol's reference: in names
and tags a comma, an equals sign and a space are escaped, in texts a quote and a backslash.
"""

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from neckyoke.bridge.outlets.follow import OutletError
from neckyoke.bridge.outlets.taker import FarSide, Row, Taken
from neckyoke.bridge.outlets.web.client import Answer, Client, judge

MEASUREMENT = "neckyoke_weighing"
BATCH = 500
SPLITS = frozenset({400, 413, 422})
"""It says so of a batch when one line of it is at fault."""
NO_PLACE = ("database not found", "bucket", "retention policy not found")


class LineProtocol(FarSide):
    """Takes weighings by POST; of all other events nothing is kept."""

    kind = "influx"
    batch = BATCH

    def __init__(self, client: Client) -> None:
        self._client, self.where = client, client.where
        self._target = client.target + ("&" if "?" in client.target else "?") + "precision=ms"

    async def take(self, rows: Sequence[Row]) -> Taken:
        """Write the weighings among the events."""
        lines = [(sequence, line) for sequence, body in rows if (line := line_of(json.loads(body))) is not None]
        misfits = dict(await self._write(lines)) if lines else {}
        for sequence, _ in rows:
            yield sequence, misfits.get(sequence, "")

    async def try_out(self, body: str) -> None:  # noqa: ARG002  # there is no point that is not a weighing
        """Post nothing: who is not let in, or has no database there, hears of it all the same."""
        answer = await self._client.post(b"", {"Content-Type": "text/plain; charset=utf-8"}, self._target)
        self._look(answer)
        if answer.status not in SPLITS:  # some say that nothing is not enough
            judge(answer, self._client.where)

    async def _write(self, lines: Sequence[tuple[int, str]]) -> list[tuple[int, str]]:
        text = "\n".join(line for _, line in lines).encode()
        answer = await self._client.post(text, {"Content-Type": "text/plain; charset=utf-8"}, self._target)
        self._look(answer)
        if answer.status not in SPLITS:
            judge(answer, self._client.where)
            return []
        if len(lines) == 1:
            return [(lines[0][0], f"{self._client.where} does not take it ({answer.said})")]
        half = len(lines) // 2
        return [*await self._write(lines[:half]), *await self._write(lines[half:])]

    def _look(self, answer: Answer) -> None:
        if answer.status >= 400 and any(words in answer.said.lower() for words in NO_PLACE):
            raise OutletError(
                f"{self._client.where} has no such database or bucket; make it ({answer.said})", slow=True
            )

    async def close(self, *, stopped: bool) -> None:  # noqa: ARG002
        """Hang up."""
        await self._client.close()


def line_of(event: dict[str, Any]) -> str | None:
    """Spell a weighing as a line; None for any other event."""
    if event["type"] != "neckyoke.weighing":
        return None
    data = event["data"]
    tag, gain = data.get("tag") or {}, data.get("gain") or {}
    fields = {
        "kg": data["weight"]["kg"],
        "spread_kg": data["weight"].get("spread_kg"),
        "grade": data["weight"]["grade"],
        "tag": tag.get("id"),
        "pen": data.get("pen"),
        "gain_kg_per_day": gain.get("kg_per_day"),
        "job": data.get("job"),
        "flags": " ".join(data.get("flags", ())),
        "voided": "voided" in data.get("flags", ()),
        "weighing": data["weighing"],
        "number": data["number"],
        "revision": data.get("revision", 1),
    }
    site = event["source"].split("/")[1]
    names = f"{MEASUREMENT},site={_name(site)},station={_name(data['station'])}"
    values = ",".join(f"{name}={_value(value)}" for name, value in fields.items() if value is not None)
    return f"{names} {values} {round(datetime.fromisoformat(data['off']).timestamp() * 1000)}"


def _name(text: str) -> str:
    return text.replace("\\", "\\\\").replace(",", r"\,").replace("=", r"\=").replace(" ", r"\ ")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return f"{value}i"
    if isinstance(value, float):
        return repr(value)
    text = str(value).replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    return f'"{text}"'
