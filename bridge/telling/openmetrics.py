"""The daemon's figures for a monitor, as OpenMetrics 1.0 text (the exposition format that Prometheus reads).

A writer of our own, since the format is simpler than what it would take to bring it in: families of samples, `# TYPE`,
`# UNIT` and `# HELP` before each, counters that end in `_total`, `# EOF` at the end.  What is not known is left out.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

CONTENT_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
PREFIX = "neckyoke"

Sample: TypeAlias = tuple[Mapping[str, str], float | None]
STATES = ("up", "lost", "silent", "missing")


@dataclass(frozen=True, slots=True)
class Family:
    """One metric: its kind, what it says, and its samples by labels.  The unit, when it has one, ends its name."""

    name: str
    kind: Literal["counter", "gauge", "info", "stateset"]
    text: str
    samples: Iterable[Sample]
    unit: str = ""


def write(status: Mapping[str, Any]) -> str:
    """Spell the daemon's status (its shape: bridge/page/doors.py) as OpenMetrics text.  Unknown keys do no harm."""
    site = {"site": str(status.get("site", ""))}
    lines: list[str] = []
    for family in _families(status):
        spelled = [
            f"{PREFIX}_{family.name}{_suffix(family.kind)}{_labels({**site, **labels})} {_number(value)}"
            for labels, value in family.samples
            if value is not None
        ]
        if spelled:
            name = f"{PREFIX}_{family.name}"
            unit = [f"# UNIT {name} {family.unit}"] if family.unit else []
            lines += [f"# TYPE {name} {family.kind}", *unit, f"# HELP {name} {_escape(family.text)}", *spelled]
    return "\n".join([*lines, "# EOF", ""])


def _families(status: Mapping[str, Any]) -> Iterator[Family]:
    links, outlets, stations = (_rows(status.get(key)) for key in ("links", "outlets", "stations"))
    journal = status.get("journal") or {}

    def of(rows: Mapping[str, Mapping[str, Any]], label: str, key: str) -> list[Sample]:
        return [({label: name}, _float(row.get(key))) for name, row in rows.items()]

    yield Family("link_state", "stateset", "State of a link.", _states(links))
    yield Family("link_frames", "counter", "Frames read from a link.", of(links, "link", "frames"))
    rejects = [
        ({"link": name, "reason": str(reason)}, _float(count))
        for name, row in links.items()
        for reason, count in (row.get("rejects") or {}).items()
    ]
    yield Family("link_rejects", "counter", "Bytes from a link that were no reading, by reason.", rejects)
    yield Family("link_bytes", "counter", "Bytes that came over a link.", of(links, "link", "bytes"))
    yield Family("link_openings", "counter", "Times a link was opened.", of(links, "link", "openings"))
    yield Family("link_losses", "counter", "Times a link was lost.", of(links, "link", "losses"))
    yield Family("link_silences", "counter", "Times a link fell silent.", of(links, "link", "silences"))
    silence = of(links, "link", "last_byte_age_s")
    yield Family("link_last_byte_age_seconds", "gauge", "Since a link's last byte.", silence, "seconds")
    yield Family("outlet_backlog", "gauge", "Events an outlet has not given yet.", of(outlets, "outlet", "backlog"))
    yield Family("outlet_connected", "gauge", "Whether a broker is reached.", of(outlets, "outlet", "connected"))
    counts: list[Sample] = [
        ({"station": name, "of": str(what)}, _float(count))
        for name, row in stations.items()
        for what, count in (row.get("counts") or {}).items()
    ]
    yield Family("animals", "gauge", "Animals under the present job sheet.", counts)
    yield Family("events", "counter", "Events written to the journal, ever.", [({}, _float(journal.get("last")))])
    yield Family("journal_waiting", "gauge", "Events not on disk yet.", [({}, _float(journal.get("waiting")))])
    troubles = status.get("troubles")
    standing = None if troubles is None else float(len(troubles))
    yield Family("troubles", "gauge", "Troubles that a person should see to.", [({}, standing)])
    clock = status.get("clock") or {}
    known = float(clock["state"] == "synchronised") if "state" in clock else None
    yield Family("clock_synchronised", "gauge", "Whether the wall clock can be trusted.", [({}, known)])
    yield Family("clock_steps", "counter", "Times the wall clock was set.", [({}, _float(clock.get("steps")))])
    yield Family(
        "build", "info", "What runs.", [({"version": str(status["version"])}, 1.0)] if "version" in status else []
    )
    up: list[Sample] = [({}, _float(status.get("up_s")))]
    yield Family("up_seconds", "gauge", "Since the daemon began.", up, "seconds")
    used: list[Sample] = [({}, _float(status.get("cpu_s")))]
    yield Family("cpu_seconds", "counter", "Processor time used.", used, "seconds")
    lag: list[Sample] = [({}, _float(status.get("loop_lag_s")))]
    yield Family("loop_lag_seconds", "gauge", "How late the event loop runs.", lag, "seconds")
    free = _float(status.get("disk_free_mb"))
    room: list[Sample] = [({}, free and free * 1e6)]
    yield Family("disk_free_bytes", "gauge", "Room left for the journal.", room, "bytes")


def _states(links: Mapping[str, Mapping[str, Any]]) -> list[Sample]:
    return [
        ({"link": name, f"{PREFIX}_link_state": state}, float(row.get("state") == state))
        for name, row in links.items()
        if "state" in row
        for state in STATES
    ]


def _rows(table: Any) -> Mapping[str, Mapping[str, Any]]:
    return table if isinstance(table, Mapping) else {}


def _float(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _suffix(kind: str) -> str:
    return {"counter": "_total", "info": "_info"}.get(kind, "")


def _labels(labels: Mapping[str, str]) -> str:
    return "{" + ",".join(f'{name}="{_escape(value)}"' for name, value in labels.items()) + "}"


def _escape(text: str) -> str:
    return text.replace("\\", "\\\\").replace("\n", "\\n").replace('"', '\\"')


def _number(value: float) -> str:
    return str(int(value)) if value.is_integer() else repr(value)
