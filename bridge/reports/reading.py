"""Reads published events back, fast: plain dictionaries, weighings only, of each the highest revision.

A file of events can hold a season.  Lines are looked at before they are taken apart, a torn or foreign line is passed
over and counted, and nothing is kept that the next line does not need.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeAlias

from neckyoke.bridge.capture.lines import LinesError, read_lines
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.job.doses.dosing import MILLILITRES

Data: TypeAlias = dict[str, Any]
"""The `data` of one weighing, as JSON gives it."""
WEIGHING = "neckyoke.weighing"
_ANIMAL = '"neckyoke.animal"'
_MARK = f'"{WEIGHING}"'
_JOB = '"type":"neckyoke.job"'


class EventsFile:
    """The weighings of an events file (.gz allowed), as often as one asks; what else it says is kept in passing.

    `unread` counts lines that are no event; `broken` says how the file breaks off, where it does.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.unread = 0
        self.broken = ""
        self._timezone: str | None = None
        self._beside: dict[str, list[str]] | None = None
        if not path.is_file():
            hint = "Give the path of an events file, as a file outlet writes it."
            raise ConfigError([Problem(file=str(path), where="file", what="there is no such file", hint=hint)])

    def __iter__(self) -> Iterator[Data]:
        for line in self.lines():
            if (data := read_line(line)) is not None:
                yield data
            else:
                self.unread += 1

    def timezone(self) -> str | None:
        """Return the farm's time zone as its first job event says it; None when it has none."""
        if self._timezone is None:
            events = (event for line in self.jobs() if (event := _json(line)) is not None)
            named = ((event.get("data") or {}).get("timezone") for event in events)
            self._timezone = next((one for one in named if isinstance(one, str)), "")
        return self._timezone or None

    def animals(self) -> Iterator[str]:
        """Yield the lines that say something of an animal, unparsed."""
        yield from self._that_say(_ANIMAL)

    def jobs(self) -> Iterator[str]:
        """Yield the lines that say something of a job, unparsed."""
        yield from self._that_say(_JOB)

    def _that_say(self, mark: str) -> Iterable[str]:
        """Return the lines with a mark; once the weighings were read to the end, without reading anew."""
        return (line for line in self._read() if mark in line) if self._beside is None else self._beside[mark]

    def _read(self) -> Iterator[str]:
        """Read line by line, as far as the file goes."""
        try:
            for line in read_lines(self.path):
                yield line.decode("utf-8", "replace")
        except LinesError as error:
            self.broken = str(error)

    def lines(self) -> Iterator[str]:
        """Yield the lines that hold weighings, unparsed."""
        self.unread = 0
        beside: dict[str, list[str]] = {_JOB: [], _ANIMAL: []}
        for line in self._read():
            if _MARK in line:
                yield line
            elif not line.startswith("{"):
                self.unread += 1
            elif (mark := _JOB if _JOB in line else _ANIMAL if _ANIMAL in line else None) is not None:
                beside[mark].append(line)
        self._beside = beside


def _json(line: str) -> Data | None:
    try:
        found = json.loads(line)
    except ValueError:
        return None
    return found if isinstance(found, dict) else None


def read_line(line: str) -> Data | None:
    """Read one line; None when it is no weighing or no JSON."""
    try:
        event = json.loads(line)
    except ValueError:
        return None
    return weighing_of(event)


def weighing_of(event: Any) -> Data | None:
    """Take the weighing out of an event, given as JSON or as neckyoke.bridge.events.Event; None when it is another."""
    if isinstance(event, dict):
        found: Data | None = event.get("data") if event.get("type") == WEIGHING else None
        return found if isinstance(found, dict) and "weighing" in found else None
    if getattr(event, "type", None) == WEIGHING:
        dumped: Data = event.data.model_dump(mode="json")
        return dumped
    return None


def latest(weighings: Iterable[Data]) -> Iterator[Data]:
    """Yield of each weighing the highest revision, in the order in which the weighings first came.

    What can be read twice (a list, an `EventsFile`) is, so that a long file needs little memory.
    """
    twice = list(weighings) if iter(weighings) is weighings else weighings
    newest: dict[str, int] = {}
    for data in twice:
        newest[data["weighing"]] = max(newest.get(data["weighing"], 0), data.get("revision", 1))
    order = iter(newest.items())
    ready: dict[str, Data] = {}
    due = next(order, None)
    for data in twice:
        if newest.get(data["weighing"]) == data.get("revision", 1):
            ready.setdefault(data["weighing"], data)
        while due is not None and due[0] in ready:
            yield ready.pop(due[0])
            due = next(order, None)


def is_paused(data: Mapping[str, Any]) -> bool:
    """Return whether it was recorded while its job was paused."""
    return "paused" in data.get("flags", ())


def is_void(data: Mapping[str, Any]) -> bool:
    """Return whether a person struck the weighing out."""
    return "voided" in data.get("flags", ())


def known_as(data: Mapping[str, Any]) -> str | None:
    """Return what tells the animal from others: its tag, else what roster or person says; None when nothing does."""
    tag, animal = data.get("tag"), data.get("animal") or {}
    if tag:
        return str(tag["id"])
    if animal.get("tag"):
        return str(animal["tag"])
    return f"visual {animal['visual']}" if animal.get("visual") else None


def job_called(data: Data, turns: Mapping[str, int]) -> int | str | None:
    """Return what `--job` takes: the job's number, by its id in `turns`; the id where that is all that is known.

    None of a weighing in no job, as while one was paused.
    """
    job = data.get("job") if data.get("job_number") else None
    return turns.get(job, job) if job else None


def amount_of(treatment: Mapping[str, Any]) -> tuple[float | None, str]:
    """Return what was given and its unit; events of before amounts had units speak of millilitres only."""
    if treatment.get("unit") is None:
        return treatment.get("dose_ml"), MILLILITRES
    return treatment.get("amount"), treatment["unit"]


def spell_values(value: Any) -> tuple[str, ...]:
    """Spell the value of a finding as people read it, one text for each of several."""
    if isinstance(value, list | tuple):
        return tuple(text for one in value for text in spell_values(one))
    if isinstance(value, bool):
        return ("yes" if value else "no",)
    return (f"{value:g}" if isinstance(value, float) else str(value),)
