"""The herd book in the journal's file: what the events say of the animals, ready to be asked.

    animal     one row an animal: the event of its highest revision
    withheld   one row a weighing whose doses still hold: what retention must leave, and who may not go

Both follow from the events and are written in the same transaction as those, so that they cannot disagree after any
stop; `rebuild` makes them anew.  An animal's and a job's event is never deleted, nor is a weighing while `withheld` has
it.
"""

import json
from collections.abc import Callable
from typing import Any, TypeAlias

from neckyoke.bridge.events import Animal, Event, Weighing, read_event
from neckyoke.bridge.herd.held import clear_dates, own_id
from neckyoke.bridge.job.doses.withholding import longest
from neckyoke.bridge.journal.rows import is_sound

Rows: TypeAlias = Callable[..., list[tuple[Any, ...]]]
"""Runs a statement with its parameters and returns its rows."""

Sound: TypeAlias = Callable[..., list[tuple[int, str]]]
"""Runs a statement that gives seq, body and sum, less what is damaged: see bridge/journal/reading.py."""

OF = """(case when json_valid(body) then
 coalesce(json_extract(body, '$.data.animal.known_as'), json_extract(body, '$.data.animal.id')) end)"""
"""The animal that an event names, by the id that it had by itself (`own_id`).

Text that is damaged names none: it must not stop whoever asks for another."""
KEPT_TYPES = "('neckyoke.animal', 'neckyoke.job')"
SCHEMA = (
    "create table animal(animal text primary key, revision integer not null, body text not null) strict, without rowid",
    """create table withheld(weighing text primary key, revision integer not null, animal text, tag text, meat text,
       until text not null) strict, without rowid""",
    "create index event_animal on event(seq) where type = 'neckyoke.animal'",
    f"create index event_goes on event(seq) where type not in {KEPT_TYPES}",
    f"create index event_of on event({OF}) where weighing is not null and {OF} is not null",
)
GOES = f"""select seq, at from event indexed by event_goes where seq <= ? and type not in {KEPT_TYPES}
 and (weighing is null or weighing not in (select weighing from withheld)) order by seq limit ?"""  # noqa: S608  # ours
DELETE = f"""delete from event where seq <= ? and type not in {KEPT_TYPES}
 and (weighing is null or weighing not in (select weighing from withheld))"""  # noqa: S608  # ours
EVENTS = "select seq, body, sum from event where type = 'neckyoke.animal'{but} order by seq"
UNADOPTED = f"""select seq, body, sum from event as e where seq in (
  select seq from event where weighing is not null and tag is not null and seq > ? and {OF} is null
  union all
  select seq from event indexed by event_of where weighing is not null and {OF} is not null
  and {OF} not in (select animal from animal)
 ){{but}} and not exists (select 1 from event where weighing = e.weighing and revision > e.revision{{but}})
 order by began, seq"""  # noqa: S608  # ours


WithheldRow: TypeAlias = tuple[str, int, str | None, str | None, str | None]
"""Weighing, revision, animal, tag, first clear date for meat."""


class HerdReading:
    """What can be asked of the herd book in a file, also of one opened read-only."""

    def __init__(self, rows: Rows, sound: Sound) -> None:
        self._rows, self._sound = rows, sound

    def animals(self) -> list[str]:
        """Return of each animal the event of its highest revision; nothing from a file of before there was a book."""
        there = self._rows("select name from sqlite_master where name = 'animal'")
        return [body for (body,) in self._rows("select body from animal")] if there else []

    def events(self) -> list[str]:
        """Return every event that says something of an animal, oldest first."""
        return [body for _, body in self._sound(EVENTS)]

    def withheld(self) -> list[WithheldRow]:
        """Return the weighings whose doses may still hold."""
        found = self._rows("select weighing, revision, animal, tag, meat from withheld")
        return [(weighing, revision, animal, tag, meat) for weighing, revision, animal, tag, meat in found]

    def unadopted(self, after: int) -> list[Event]:
        """Return the latest revision of each weighing whose animal the book lacks, oldest first.

        Of those that name no animal, only what lies beyond a sequence: earlier ones have been looked at.
        """
        return [read_event(body) for _, body in self._sound(UNADOPTED, after)]


def take(rows: Rows, event: Event, body: str) -> None:
    """Take an event that is written."""
    data = event.data
    if isinstance(data, Animal):
        rows(
            "insert into animal values (?, ?, ?) on conflict(animal) do update set revision = excluded.revision,"
            " body = excluded.body where excluded.revision > animal.revision",
            data.animal,
            data.revision,
            body,
        )
    elif isinstance(data, Weighing):
        _withhold(rows, data)


def _withhold(rows: Rows, data: Weighing) -> None:
    row = _row_of(data)
    if row[-1] is None:
        if data.revision > 1:
            rows("delete from withheld where weighing = ? and revision < ?", data.weighing, data.revision)
        return
    rows(
        "insert into withheld values (?, ?, ?, ?, ?, ?) on conflict(weighing) do update set"
        " revision = excluded.revision, animal = excluded.animal, tag = excluded.tag, meat = excluded.meat,"
        " until = excluded.until where excluded.revision > withheld.revision",
        *row,
    )


def _row_of(data: Weighing) -> tuple[str, int, str | None, str | None, str | None, str | None]:
    meat, export = clear_dates(data)
    tag = data.tag.id if data.tag else None
    return data.weighing, data.revision, own_id(data), tag, meat, longest((meat, export))


def passed(rows: Rows, day: str) -> None:
    """Let go of the doses whose dates have passed on a day, spelled YYYY-MM-DD: their weighings may be deleted."""
    rows("delete from withheld where until <= ?", day)


def rebuild(rows: Rows, today: str) -> int:
    """Make both tables anew from the events; return how many rows came out otherwise."""
    passed(rows, today)
    before = {table: {*rows(f"select * from {table}")} for table in ("animal", "withheld")}  # noqa: S608  # ours
    for table in before:
        rows(f"delete from {table}")  # noqa: S608  # ours
    for which in ("type = 'neckyoke.animal'", "weighing is not null"):
        for seq, body, total in rows(f"select seq, body, sum from event where {which} order by seq"):  # noqa: S608  # ours
            if is_sound(seq, body, total):
                take(rows, read_event(body), body)
    passed(rows, today)
    after = {table: {*rows(f"select * from {table}")} for table in before}  # noqa: S608  # ours
    return sum(len({row[0] for row in before[table] ^ after[table]}) for table in before)


def agrees(rows: Rows) -> bool:
    """Return whether both tables say what the events say that they rest on; a card may have damaged a row."""
    newest: dict[str, tuple[int, str]] = {}
    for seq, body, total in rows(EVENTS.format(but="")):
        if not is_sound(seq, body, total):
            return False
        data = json.loads(body)["data"]
        newest[data["animal"]] = max(newest.get(data["animal"], (0, "")), (data["revision"], body))
    if {(animal, *one) for animal, one in newest.items()} != {*rows("select animal, revision, body from animal")}:
        return False
    for row in rows("select weighing, revision, animal, tag, meat, until from withheld"):
        found = rows("select seq, body, sum from event where weighing = ? and revision = ?", *row[:2])
        data = read_event(found[0][1]).data if found and is_sound(*found[0]) else None
        if not isinstance(data, Weighing) or _row_of(data) != row:
            return False
    return True
