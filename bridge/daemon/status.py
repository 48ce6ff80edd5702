"""How the daemon is, as figures: for `neckyoke status`, the retained status topic, the page and the metrics."""

import os
import shutil
import time
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.events import spell_time
from neckyoke.bridge.job.find import sheets_beside
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.links.supervise import Supervisor
from neckyoke.bridge.outlets.make import Outlet
from neckyoke.bridge.site import Site
from neckyoke.bridge.standing import Standing


def troubles(standing: Standing) -> list[dict[str, Any]]:
    """Return the troubles that stand, the oldest first: ready for JSON.  Their times are seconds since 1970."""
    return [
        {
            "about": one.said.about,
            "text": one.said.text,
            "since": spell_time(datetime.fromtimestamp(one.since, UTC)),
            **{name: value for name in ("station", "link") if (value := getattr(one.said, name))},
        }
        for one in standing.all()
    ]


def platform(site: Site, name: str) -> dict[str, Any]:
    """Return what a station shows now, for a live display: ready for JSON.

    A scale that is not heard shows nothing; a weight that was taken before stays taken.
    """
    view = site.stations[name].view
    shown = view.platform
    scale = site.config.stations[name].scale
    heard = site.state(scale) in {"", "up"}
    todo = advice(shown.state, shown.settled_kg, view.missing) if heard else f"The scale is not heard: see to {scale}."
    return {
        "station": name,
        "state": shown.state,
        "kg": round(shown.kg, 2) if heard and shown.kg is not None else None,
        "moving": shown.moving if heard else None,
        "number": view.number,
        "weighing": view.weighing,
        "tag": view.tag.id if view.tag else None,
        "tags_seen": view.tags_seen,
        "settled_kg": shown.settled_kg,
        "grade": shown.grade,
        "missing": list(view.missing),
        "may_leave": shown.settled_kg is not None and not view.missing,
        "next": todo,
    }


def advice(state: str, settled_kg: float | None, missing: Iterable[str]) -> str:
    """Return in one plain sentence what to do next."""
    if state in {"empty", "leaving"}:
        return "Ready for the next animal." if state == "empty" else "Stepping off."
    if settled_kg is None:
        return "Wait: not settled yet."
    lacking = " and ".join(missing)
    return f"Keep it: {lacking} missing." if lacking else "Weighed: let it go."


def figures(
    site: Site,
    clock: WallClock,
    journal: Journal,
    supervisors: Mapping[str, Supervisor],
    outlets: Mapping[str, Outlet],
) -> dict[str, Any]:
    """Gather every counter that matters."""
    now = clock.now()
    links = {}
    for name, supervisor in supervisors.items():
        counts = site.counts(name)
        frames = counts.pop("frames", 0)
        links[name] = {**supervisor.health(), "frames": frames, "rejects": counts}
    stations = {}
    for name, station in site.stations.items():
        clerk = site.clerks[name]
        counts = {"animals": len(station.memory.weighed), "number": station.memory.number}
        if clerk.roster is not None:
            counts |= {"expected": len(clerk.roster), "not_seen": len(clerk.not_seen)}
        stations[name] = {
            "view": platform(site, name),
            "counts": counts,
            "sheet": clerk.sheet.title if clerk.sheet else None,
            "treatments": [one.name for one in clerk.sheet.treatments] if clerk.sheet else [],
            "sheets": sheets_beside(site.config.folder),
            "zero_kg": station.memory.zero_kg,
        }
    return {
        "site": site.config.site,
        "version": version("neckyoke"),
        "pid": os.getpid(),
        "started": site.run,
        "time": spell_time(clock.stamp(now).time),
        "up_s": round(now, 1),
        "stations": stations,
        "links": links,
        "outlets": {name: outlet.health() for name, outlet in outlets.items()},
        "journal": journal.health,
        "clock": {"state": str(clock.state), "steps": clock.steps},
        "disk_free_mb": _disk_free_mb(journal.path),
        "cpu_s": round(time.process_time(), 2),
    }


def _disk_free_mb(path: Path) -> int | None:
    try:
        return shutil.disk_usage(path.parent).free // 1_000_000
    except OSError:
        return None
