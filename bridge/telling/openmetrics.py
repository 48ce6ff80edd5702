"""The daemon's figures for a monitor: OpenMetrics 1.0 for whoever asks for it, else the Prometheus text format 0.0.4.

A writer of our own, since the formats are simpler than what it would take to bring it in: families of samples, with
`# TYPE`, `# UNIT` and `# HELP` before each, counters that end in `_total`, `# EOF` at the end.  The older format has no
units, no `info` and no `stateset` (they are gauges there), and names a counter with its ending.  What is not known is
left out.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

from neckyoke.bridge.events import Clock
from neckyoke.bridge.telling.status import FileStatus, LinkStatus, LinkWord, Status

CONTENT_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
PLAIN_TYPE = "text/plain; version=0.0.4; charset=utf-8"
PREFIX = "neckyoke"

Sample: TypeAlias = tuple[Mapping[str, str], float | None]
STATES = get_args(LinkWord)


@dataclass(frozen=True, slots=True)
class Family:
    """One metric: its kind, what it says, and its samples by labels.  The unit, when it has one, ends its name."""

    name: str
    kind: Literal["counter", "gauge", "info", "stateset"]
    text: str
    samples: Iterable[Sample]
    unit: str = ""


def told(status: Status, accept: str) -> tuple[str, str]:
    """Spell the status in the format that an Accept header asks for; give it with its content type."""
    asked = any(
        part.split(";")[0].strip() == "application/openmetrics-text" and "q=0" not in part.replace("q=0.", "")
        for part in accept.lower().split(",")
    )
    return (write(status), CONTENT_TYPE) if asked else (write(status, plain=True), PLAIN_TYPE)


def write(status: Status, *, plain: bool = False) -> str:
    """Spell the daemon's status as OpenMetrics text, or in the plain format of before it."""
    site = {"site": status.site}
    lines: list[str] = []
    for family in _families(status):
        spelled = [
            f"{PREFIX}_{family.name}{_suffix(family.kind)}{_labels({**site, **labels})} {_number(float(value))}"
            for labels, value in family.samples
            if value is not None
        ]
        if spelled:
            name = f"{PREFIX}_{family.name}{_suffix(family.kind) if plain else ''}"
            kind = "gauge" if plain and family.kind in {"info", "stateset"} else family.kind
            unit = [f"# UNIT {name} {family.unit}"] if family.unit and not plain else []
            lines += [f"# TYPE {name} {kind}", *unit, f"# HELP {name} {_escape(family.text)}", *spelled]
    return "\n".join([*lines, *([] if plain else ["# EOF"]), ""])


def _families(status: Status) -> Iterator[Family]:
    links, outlets = status.links.items(), status.outlets.items()

    def of_links(value: Callable[[LinkStatus], float | None]) -> list[Sample]:
        return [({"link": name}, value(link)) for name, link in links]

    states: list[Sample] = [
        ({"link": name, f"{PREFIX}_link_state": state}, link.state == state) for name, link in links for state in STATES
    ]
    yield Family("link_state", "stateset", "State of a link.", states)
    yield Family("link_frames", "counter", "Frames read from a link.", of_links(lambda link: link.frames))
    rejects: list[Sample] = [
        ({"link": name, "reason": reason}, count) for name, link in links for reason, count in link.rejects.items()
    ]
    yield Family("link_rejects", "counter", "Bytes from a link that were no reading, by reason.", rejects)
    yield Family("link_bytes", "counter", "Bytes that came over a link.", of_links(lambda link: link.bytes))
    yield Family("link_openings", "counter", "Times a link was opened.", of_links(lambda link: link.openings))
    yield Family("link_losses", "counter", "Times a link was lost.", of_links(lambda link: link.losses))
    yield Family("link_silences", "counter", "Times a link fell silent.", of_links(lambda link: link.silences))
    silence = of_links(lambda link: link.last_byte_age_s)
    yield Family("link_last_byte_age_seconds", "gauge", "Since a link's last byte.", silence, "seconds")
    waits: list[Sample] = [({"outlet": name}, outlet.backlog) for name, outlet in outlets]
    yield Family("outlet_backlog", "gauge", "Events an outlet has not given yet.", waits)
    reached: list[Sample] = [
        ({"outlet": name}, outlet.connected) for name, outlet in outlets if not isinstance(outlet, FileStatus)
    ]
    yield Family("outlet_connected", "gauge", "Whether a broker, server or database is reached.", reached)
    counts: list[Sample] = [
        ({"station": name, "of": what}, count)
        for name, station in status.stations.items()
        for what, count in station.counts
    ]
    yield Family("animals", "gauge", "Animals in the present job.", counts)
    journal, clock = status.journal, status.clock
    yield Family("events", "counter", "Events written to the journal, ever.", [({}, journal.last)])
    yield Family("journal_waiting", "gauge", "Events not on disk yet.", [({}, journal.waiting)])
    stuck: list[Sample] = [({}, float("journal-stuck" in journal.trouble))]
    yield Family("journal_stuck", "gauge", "Whether the journal's disk takes nothing: see to it now.", stuck)
    yield Family("troubles", "gauge", "Troubles that a person should see to.", [({}, len(status.troubles))])
    known = clock.state is Clock.SYNCHRONISED
    yield Family("clock_synchronised", "gauge", "Whether the wall clock can be trusted.", [({}, known)])
    yield Family("clock_steps", "counter", "Times the wall clock was set.", [({}, clock.steps)])
    yield Family("build", "info", "What runs.", [({"version": status.version}, 1.0)])
    yield Family("up_seconds", "gauge", "Since the daemon began.", [({}, status.up_s)], "seconds")
    yield Family("cpu_seconds", "counter", "Processor time used.", [({}, status.cpu_s)], "seconds")
    yield Family("loop_lag_seconds", "gauge", "How late the event loop runs.", [({}, status.loop_lag_s)], "seconds")
    room = None if status.disk_free_mb is None else status.disk_free_mb * 1e6
    yield Family("disk_free_bytes", "gauge", "Room left for the journal.", [({}, room)], "bytes")


def _suffix(kind: str) -> str:
    return {"counter": "_total", "info": "_info"}.get(kind, "")


def _labels(labels: Mapping[str, str]) -> str:
    return "{" + ",".join(f'{name}="{_escape(value)}"' for name, value in labels.items()) + "}"


def _escape(text: str) -> str:
    return text.replace("\\", "\\\\").replace("\n", "\\n").replace('"', '\\"')


def _number(value: float) -> str:
    return str(int(value)) if value.is_integer() else repr(value)
