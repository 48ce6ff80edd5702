"""What is shipped: the wheel holds what runs and nothing else, and every import that it makes is declared."""

import ast
import email
import re
import sys
import tarfile
import tomllib
import zipfile
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from hatchling.build import build_sdist, build_wheel

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
SHIPPED = ("bridge", "protocols", "simulators")


@pytest.fixture
def at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)  # where build front ends call it (PEP 517)


@pytest.mark.usefixtures("at_the_root")
def test_the_wheel_holds_one_name_and_no_tests(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / build_wheel(str(tmp_path))) as wheel:
        names = set(wheel.namelist())
        about = next(name for name in names if name.endswith(".dist-info/METADATA"))
        metadata = email.message_from_bytes(wheel.read(about))
        licence = wheel.read(about.replace("METADATA", "licenses/bridge/LICENSE")).decode()
    there = [path for room in SHIPPED for path in (ROOT / room).rglob("*") if path.is_file()]
    ours = {
        f"neckyoke/{path.relative_to(ROOT)}"
        for path in there
        if "__pycache__" not in path.parts and not path.is_relative_to(ROOT / "simulators/bluetooth")
    }

    assert {name.split("/")[0] for name in names} == {"neckyoke", about.split("/")[0]}
    assert {name for name in names if name.startswith("neckyoke/")} == ours
    assert not [name for name in names if "simulators/bluetooth" in name]
    assert {"neckyoke/bridge/page/static/index.html", "neckyoke/bridge/page/static/main.js"} <= names
    assert metadata["License-Expression"] == "MIT"
    assert licence.startswith("MIT License")


@pytest.mark.usefixtures("at_the_root")
def test_the_sources_hold_what_is_needed_to_test_and_to_build_them(tmp_path: Path) -> None:
    with tarfile.open(tmp_path / build_sdist(str(tmp_path))) as sdist:
        names = {name.partition("/")[2] for name in sdist.getnames()}
    assert {"pyproject.toml", "README.md", "DEVELOPERS.md", "bridge/LICENSE", "tests/conftest.py"} <= names
    assert {"simulators/bluetooth/ends.py", "tests/captures/free-form/frames.bin"} <= names


def _imported() -> set[str]:
    """List the foreign packages that shipped code imports."""
    found: set[str] = set()
    for path in (path for room in SHIPPED for path in (ROOT / room).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module.split(".")[0])
    return found - {"neckyoke"} - set(sys.stdlib_module_names)


def test_what_is_imported_is_declared() -> None:
    wanted = [*PROJECT["dependencies"], *(one for extra in PROJECT["optional-dependencies"].values() for one in extra)]
    declared = {re.split(r"[<>=;\[ ]", one)[0].casefold() for one in wanted}
    distributions = packages_distributions()
    needed = {name: {one.casefold() for one in distributions.get(name, [name])} for name in _imported()}

    assert {name for name, either in needed.items() if not either & declared} == set()
    assert not declared - {one for either in needed.values() for one in either}, "declared and not imported"
