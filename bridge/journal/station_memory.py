"""What the stations carry from run to run, kept in the journal by its changes.

    memory/STATION         number, zero and the habits of the readers, a few dozen bytes
    weighed/STATION/TAG    the weighing that this tag was given under the present job sheet
    weighed/STATION/ID     a weighing without a tag under it

A mob under one sheet grows to thousands of tags; written whole with each weighing they would wear a card out, so only
what changed since the last time is.
"""

import json
from collections.abc import Mapping
from dataclasses import replace

from neckyoke.bridge.events import Weighing
from neckyoke.bridge.station.settings import Memory

MEMORY = "memory/"
WEIGHED = "weighed/"


class Carried:
    """The journal's knowledge of each station's memory.  Made from what the journal kept of the last run."""

    def __init__(self, values: Mapping[str, str]) -> None:
        self._kept = {name: body for name, body in values.items() if name.startswith((MEMORY, WEIGHED))}

    def memory(self, station: str, interrupted: Weighing | None = None) -> Memory:
        """Return what a station remembers of the last run, the stay that was interrupted included.

        That one has had its number and its tag, though the run did not live to say so.
        """
        table = json.loads(self._kept.get(MEMORY + station, "{}"))
        start = f"{WEIGHED}{station}/"
        weighed = {name.removeprefix(start): body for name, body in self._kept.items() if name.startswith(start)}
        memory = replace(Memory(**table), weighed=weighed)
        if interrupted is None:
            return memory
        claim = interrupted.tag.id if interrupted.tag else interrupted.weighing
        counted = {claim: interrupted.weighing, **weighed}
        number = max(memory.number, interrupted.number)
        return replace(memory, number=number, weighed=counted, interrupted=interrupted.model_dump(mode="json"))

    def changes(self, memories: Mapping[str, Memory]) -> dict[str, str | None]:
        """Return what must be written so that the journal knows these memories, by name; None takes a name out."""
        now = {
            name: body
            for station, memory in memories.items()
            for name, body in (
                (MEMORY + station, json.dumps(_short(memory))),
                *((f"{WEIGHED}{station}/{tag}", weighing) for tag, weighing in memory.weighed.items()),
            )
        }
        ours = {name for name in self._kept if name.split("/")[1] in memories}
        changed: dict[str, str | None] = {
            **dict.fromkeys(ours - now.keys()),
            **{name: body for name, body in now.items() if self._kept.get(name) != body},
        }
        self._kept = {**{name: body for name, body in self._kept.items() if name not in ours}, **now}
        return changed


def _short(memory: Memory) -> dict[str, object]:
    """Return what is written whole whenever it changes."""
    return {"number": memory.number, "zero_kg": memory.zero_kg, "habits": {**memory.habits}}
