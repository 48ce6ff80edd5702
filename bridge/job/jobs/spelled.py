"""A station's jobs, and what happened to them, spelled for JSON and read again."""

from collections.abc import Mapping
from dataclasses import astuple, fields
from typing import Any

from neckyoke.bridge.job.jobs.job import SheetRef, read_job, spell_job
from neckyoke.bridge.job.jobs.table import State
from neckyoke.bridge.job.jobs.words import Begin, Choose, End, Op, Part, Pause, Resume, Run, Seen, Stay

OPS: dict[str, type[Op]] = {
    kind.__name__.lower(): kind for kind in (Begin, Pause, Resume, End, Choose, Stay, Seen, Part, Run)
}


def spell_op(op: Op) -> list[Any]:
    """Spell one thing that happened: its kind, then what it says in the order of its fields."""
    return [type(op).__name__.lower(), *astuple(op)]


def read_op(spelled: list[Any]) -> Op:
    """Read what `spell_op` spelled."""
    kind = OPS[spelled[0]]
    words = dict(zip((one.name for one in fields(kind)), spelled[1:], strict=False))
    if words.get("sheet") is not None:
        words["sheet"] = SheetRef(*words["sheet"])
    return kind(**words)


def spell_state(state: State) -> dict[str, Any]:
    """Spell a state; what only a run knows is left out."""
    return {
        "jobs": {name: spell_job(job) for name, job in state.jobs.items()},
        "open": state.open,
        "named": list(state.named) if state.named else None,
        "configured": state.configured,
        "fresh": state.fresh,
        "now": state.now,
        "turn": state.turn,
    }


def read_state(memory: Mapping[str, Any]) -> State:
    """Read what `spell_state` spelled; a fresh one of nothing."""
    if not memory:
        return State()
    return State(
        jobs={name: read_job(table) for name, table in memory["jobs"].items()},
        open=memory["open"],
        named=SheetRef(*memory["named"]) if memory["named"] else None,
        configured=memory["configured"],
        fresh=memory["fresh"],
        now=memory["now"],
        turn=memory["turn"],
        active=memory.get("active", 0.0),
    )


def same(one: State, other: State) -> bool:
    """Return whether two states are the same but for the last digits of times."""
    return _without_times(one) == _without_times(other)


def _without_times(state: State) -> dict[str, Any]:
    spelled = spell_state(state)
    for job in spelled["jobs"].values():
        job["begun"], job["ended"] = None, job["ended"] is not None
    return spelled
