"""Whether the herd book in a journal's file says what its events say: read by sqlite3 and json alone."""

import contextlib
import json
import sqlite3
from pathlib import Path
from typing import Any


def disagreements(path: Path, *, ended: bool) -> list[str]:
    """List what herd book and events of a journal do not agree on.

    `ended`: the run has ended in order, so that every animal that a weighing names must be known.
    """
    with contextlib.closing(sqlite3.connect(path)) as journal:
        events = [json.loads(body) for (body,) in journal.execute("select body from event order by seq")]
        animals = dict(journal.execute("select animal, body from animal"))
        withheld = set(journal.execute("select weighing, revision, meat from withheld"))
    newest: dict[str, dict[str, Any]] = {}
    weighings: dict[str, dict[str, Any]] = {}
    for event in events:
        data = event["data"]
        for kind, found in (("animal", newest), ("weighing", weighings)):
            if event["type"] != f"neckyoke.{kind}":
                continue
            before = found.setdefault(data[kind], data)
            if before["revision"] < data["revision"]:
                found[data[kind]] = data
    wrong = [f"animal {name}" for name in newest.keys() ^ animals.keys()]
    wrong += [f"animal {name}" for name in newest.keys() & animals if json.loads(animals[name])["data"] != newest[name]]
    holds = {(name, data["revision"], clear) for name, data in weighings.items() if (clear := _clear(data)) is not None}
    wrong += [f"withheld {one}" for one in holds ^ withheld]
    if ended:
        named = {name: data["animal"]["id"] for name, data in weighings.items() if (data["animal"] or {}).get("id")}
        wrong += [f"weighing {name} names nobody" for name, animal in named.items() if animal not in newest]
    return wrong


def _clear(data: dict[str, Any]) -> str | None:
    """Return the latest first clear date for meat of what a weighing gave."""
    if "voided" in data["flags"]:
        return None
    given = [one["withheld_until"] for one in data["treatments"] if not one["skipped"] and one["withheld_until"]]
    return max(given, default=None)
