"""A daemon's status, and what a platform shows, from the little that a test says of them."""

from typing import Any

from neckyoke.bridge.telling.status import PlatformView, Status

LINK: dict[str, Any] = {
    "state": "up", "text": "", "bytes": 0, "openings": 1, "failures": 0, "losses": 0, "silences": 0,
    "writes_failed": 0, "bytes_per_s": 0.0, "last_byte_age_s": None, "frames": 0, "rejects": {},
}  # fmt: skip
FILE: dict[str, Any] = {"kind": "file", "written": 0, "mended_bytes": 0, "rotations": 0}
BROKER: dict[str, Any] = {"kind": "mqtt", "connected": True, "delivered": 0, "connections": 1, "requests": 0}
STATION: dict[str, Any] = {"sheet": None, "treatments": [], "sheets": [], "zero_kg": None}
STATUS: dict[str, Any] = {
    "site": "larkmoor", "version": "0.1.0", "pid": 1, "started": "2026-11-24T02:11:00.000Z",
    "time": "2026-11-24T02:17:00.000Z", "up_s": 360.0, "cpu_s": 4.25, "loop_lag_s": 0.0, "disk_free_mb": 9000,
    "clock": {"state": "synchronised", "steps": 0}, "troubles": [],
}  # fmt: skip
JOURNAL: dict[str, Any] = {
    "last": 0, "waiting": 0, "let_go": 0, "refused": 0, "repeats": 0, "missing": 0, "aside": 0, "mended": 0,
    "trouble": {},
}  # fmt: skip


def view_of(station: str = "crush", state: str = "empty", kg: float | None = 0.0, **more: Any) -> PlatformView:
    """Make what a platform shows."""
    return PlatformView.model_validate(
        {
            "station": station, "state": state, "kg": kg, "moving": state in {"arriving", "leaving"}, "number": None,
            "weighing": None, "tag": None, "tags_seen": 0, "settled_kg": None, "grade": None, "missing": [],
            "may_leave": False, "next": "", **more,
        }
    )  # fmt: skip


def status_of(**said: Any) -> Status:
    """Make a status; what is not said of it is what a quiet, healthy daemon would show."""
    stations = {
        name: {
            "view": view_of(name, kg=None),
            **STATION,
            **row,
            "counts": {"animals": 0, "number": 0, **row.get("counts", {})},
        }
        for name, row in said.get("stations", {}).items()
    }
    links = {name: {**LINK, **row} for name, row in said.get("links", {}).items()}
    outlets = {
        name: {"position": 0, "backlog": 0, "trouble": {}, **(BROKER if row["kind"] == "mqtt" else FILE), **row}
        for name, row in said.get("outlets", {}).items()
    }
    troubles = [{"since": STATUS["time"], **row} for row in said.get("troubles", [])]
    made = {"stations": stations, "links": links, "outlets": outlets, "troubles": troubles}
    return Status.model_validate({**STATUS, **said, **made, "journal": {**JOURNAL, **said.get("journal", {})}})
