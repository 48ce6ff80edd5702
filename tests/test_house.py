"""The house keeps its shape: what may stand at the top level, and which way the arrows point (DEVELOPERS.md)."""

import ast
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "bridge", "protocols", "simulators", "tests"}
PURE = ("asyncio", "time", "serial", "sqlite3", "structlog", "logging", "socket", "threading", "os", "pathlib")


def _imports(folder: str) -> Iterator[tuple[Path, str]]:
    for path in sorted((ROOT / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                yield from ((path.relative_to(ROOT), alias.name) for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module:
                yield path.relative_to(ROOT), node.module


def _is_of(name: str, packages: tuple[str, ...]) -> bool:
    return any(name == package or name.startswith(f"{package}.") for package in packages)


def test_nothing_else_stands_at_the_top_level() -> None:
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, check=True, capture_output=True, text=True).stdout
    top = {line.split("/")[0] for line in tracked.splitlines()}

    assert {name for name in top if not name.startswith(".")} <= TOP


@pytest.mark.parametrize(
    ("folder", "never"),
    [
        ("protocols", ("bridge", "simulators")),
        ("simulators", ("bridge", "protocols")),
        (
            "bridge/station",
            (
                "neckyoke.bridge.config.model",
                "neckyoke.bridge.daemon.service",
                "neckyoke.bridge.site",
                "neckyoke.bridge.job",
                "neckyoke.bridge.links",
            ),
        ),
        (
            "bridge/job",
            (
                "neckyoke.bridge.daemon.service",
                "neckyoke.bridge.site",
                "neckyoke.bridge.links.supervise",
                "neckyoke.bridge.outlets",
                "neckyoke.bridge.journal.journal",
            ),
        ),
        (
            "bridge/links",
            (
                "neckyoke.bridge.daemon.service",
                "neckyoke.bridge.site",
                "neckyoke.bridge.station.station",
                "neckyoke.bridge.outlets",
                "neckyoke.bridge.journal.journal",
            ),
        ),
        (
            "bridge/outlets",
            (
                "neckyoke.bridge.daemon.service",
                "neckyoke.bridge.site",
                "neckyoke.bridge.job",
                "neckyoke.bridge.links.supervise",
            ),
        ),
        (
            "bridge/reports",
            (
                "neckyoke.bridge.daemon.service",
                "neckyoke.bridge.site",
                "neckyoke.bridge.links",
                "neckyoke.bridge.outlets",
            ),
        ),
    ],
)
def test_arrows_point_one_way(folder: str, never: tuple[str, ...]) -> None:
    wrong = [(str(path), name) for path, name in _imports(folder) if _is_of(name, never)]
    allowed = {("simulators/day.py", "neckyoke.protocols.tagcode")}  # ready-made scenarios may

    assert set(wrong) <= allowed


def test_the_station_imports_only_readings_codes_events_and_itself() -> None:
    ours = {name for _, name in _imports("bridge/station") if _is_of(name, ("bridge", "protocols"))}

    assert {name for name in ours if not name.startswith("neckyoke.bridge.station")} <= {
        "neckyoke.bridge.events",
        "neckyoke.protocols.readings",
        "neckyoke.protocols.tagcode",
    }


@pytest.mark.parametrize("folder", ["protocols", "bridge/station"])
def test_the_pure_rooms_do_no_io_and_have_no_clock(folder: str) -> None:
    assert [(str(path), name) for path, name in _imports(folder) if _is_of(name, PURE)] == []


def test_only_the_demo_joins_bridge_and_simulators() -> None:
    joined = {str(path) for path, name in _imports("bridge") if _is_of(name, ("simulators",))}

    assert joined == {"bridge/commands/demo.py"}
