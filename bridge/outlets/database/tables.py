"""The tables of a farm's database, and the statements by which an event keeps them current.  Pure: no database here.

    weighing   a row a weighing, its newest revision; struck-out ones stay, with voided true
    dose       a row a treatment of a weighing's newest revision; skipped ones too
    finding    a row a finding of a weighing's newest revision
    job        a row a job, its newest revision

Every statement may be repeated and may come late: a row gives way only to a higher revision, and what hangs on a
weighing is only written for the revision that stands.  So nothing is read before it is written, many sheds may write
into one database, and a recorder may join these tables at any time.  The SQL is what SQLite (3.24) and PostgreSQL (9.5)
have in common; `?` marks a value.
"""

import json
from collections.abc import Iterator
from typing import Any, TypeAlias

from neckyoke.bridge.reports.reading import amount_of, spell_values

Statement: TypeAlias = tuple[str, tuple[Any, ...]]

COLUMNS: dict[str, dict[str, str]] = {
    "weighing": {
        "id": "text primary key", "revision": "integer not null", "site": "text not null", "station": "text not null",
        "number": "integer not null", "job": "text", "job_number": "integer", "sheet": "text", "tag": "text",
        "visual": "text", "kg": "double precision", "grade": "text not null", "began": "timestamp not null",
        "ended": "timestamp not null", "pen": "text", "gain_kg_per_day": "double precision", "flags": "text not null",
        "notes": "text not null", "voided": "boolean not null", "final": "boolean not null", "event": "text not null",
    },
    "dose": {
        "weighing": "text not null", "place": "integer not null", "revision": "integer not null",
        "name": "text not null",
        "amount": "double precision", "unit": "text not null", "skipped": "boolean not null", "batch": "text",
        "withheld_until": "text", "export_from": "text", "given_by": "text", "route": "text", "reason": "text",
    },
    "finding": {
        "weighing": "text not null", "place": "integer not null", "revision": "integer not null",
        "name": "text not null",
        "value": "text not null", "given_by": "text not null",
    },
    "job": {
        "id": "text primary key", "revision": "integer not null", "site": "text not null", "station": "text not null",
        "turn": "integer not null", "state": "text not null", "sheet": "text", "began": "timestamp not null",
        "ended": "timestamp", "animals": "integer", "mean_kg": "double precision", "event": "text not null",
    },
}  # fmt: skip
KEYS = {"weighing": "id", "job": "id", "dose": "weighing, place", "finding": "weighing, place"}
INDEXES = (
    "create index if not exists weighing_tag on weighing (tag)",
    "create index if not exists weighing_began on weighing (site, began)",
)


def schema() -> list[str]:
    """Return the statements that make the tables where there are none."""
    made = []
    for table, columns in COLUMNS.items():
        spelled = [f"{name} {kind}" for name, kind in columns.items()]
        if "," in KEYS[table]:
            spelled.append(f"primary key ({KEYS[table]})")
        made.append(f"create table if not exists {table} ({', '.join(spelled)})")
    return [*made, *INDEXES]


def statements(event: dict[str, Any]) -> Iterator[Statement]:
    """Yield what an event changes; nothing for one that has no table."""
    site = event["source"].split("/")[1]
    if event["type"] == "neckyoke.weighing":
        yield from _weighing(event, event["data"], site)
    elif event["type"] == "neckyoke.job":
        data = event["data"]
        tally = data.get("tally") or {}
        yield _upsert(
            "job",
            (
                data["job"], data["revision"], site, data["station"], data["turn"], data["state"], data.get("sheet"),
                data["begun"], data.get("ended"), tally.get("animals"), tally.get("mean_kg"), _whole(event),
            ),
        )  # fmt: skip


def _weighing(event: dict[str, Any], data: dict[str, Any], site: str) -> Iterator[Statement]:
    name, revision = data["weighing"], data.get("revision", 1)
    flags, animal = data.get("flags", ()), data.get("animal") or {}
    yield _upsert(
        "weighing",
        (
            name, revision, site, data["station"], data["number"], data.get("job"), data.get("job_number"),
            data.get("sheet"), (data.get("tag") or {}).get("id"), _text(animal.get("visual")), data["weight"]["kg"],
            data["weight"]["grade"], data["on"], data["off"], data.get("pen"),
            (data.get("gain") or {}).get("kg_per_day"), " ".join(flags), "; ".join(data.get("notes", ())),
            "voided" in flags, data.get("final", True), _whole(event),
        ),
    )  # fmt: skip
    for table in ("dose", "finding"):
        yield f"delete from {table} where weighing = ? and revision < ?", (name, revision)  # noqa: S608  # our names
    for place, one in enumerate(data.get("treatments", ()), 1):
        amount, unit = amount_of(one)
        yield _below(
            "dose",
            (
                name, place, revision, one["name"], amount, unit, bool(one.get("skipped")), one.get("batch"),
                one.get("withheld_until"), one.get("export_from"), one.get("given_by"), one.get("route"),
                one.get("reason"),
            ),
        )  # fmt: skip
    for place, one in enumerate(data.get("findings", ()), 1):
        yield _below("finding", (name, place, revision, one["name"], "; ".join(spell_values(one["value"])), one["by"]))


def _upsert(table: str, values: tuple[Any, ...]) -> Statement:
    """Write a row; one that is there gives way to a higher revision only."""
    names = list(COLUMNS[table])
    changed = ", ".join(f"{name} = excluded.{name}" for name in names[1:])
    sql = f"insert into {table} ({', '.join(names)}) values ({_marks(names)}) on conflict ({names[0]})"  # noqa: S608
    return f"{sql} do update set {changed} where excluded.revision > {table}.revision", values


def _below(table: str, values: tuple[Any, ...]) -> Statement:
    """Write a row of a weighing, if that revision stands and the row is not there yet."""
    names = list(COLUMNS[table])
    typed = ", ".join(f"cast(? as {COLUMNS[table][name].split(' not null')[0]})" for name in names)
    stands = "exists (select 1 from weighing where id = ? and revision = ?)"
    sql = f"insert into {table} ({', '.join(names)}) select {typed} where {stands}"  # our names
    return f"{sql} on conflict ({KEYS[table]}) do nothing", (*values, values[0], values[2])


def _marks(names: list[str]) -> str:
    return ", ".join("?" for _ in names)


def _whole(event: dict[str, Any]) -> str:
    return json.dumps(event, ensure_ascii=False, separators=(",", ":"))


def _text(value: Any) -> str | None:
    return None if value is None else str(value)
