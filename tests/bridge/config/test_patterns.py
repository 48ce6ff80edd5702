"""`neckyoke check` tries the patterns of one's own layouts on hard lines, for a bounded time."""

import subprocess
import sys
from pathlib import Path

import pytest

from neckyoke.bridge.config import patterns
from neckyoke.bridge.config.patterns import slow_layouts
from neckyoke.protocols.scale.builtin import BUILT_IN
from tests.support.daemon import CONFIG, ROOT


def test_built_in_layouts_are_quick() -> None:
    spelled = {name: layout.pattern.pattern.decode("latin-1") for name, layout in BUILT_IN.items()}

    assert list(slow_layouts(spelled)) == []


def test_slow_ones_are_named_also_where_the_time_is_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patterns, "PATIENCE_S", 2.0)
    slow = {
        "good": "(?P<value>[0-9]+)",
        "cubes": "(?P<value>[0-9]*)[0-9]*[0-9]*[0-9]*x",
        "never": "(?P<value>1)(?:[0-9]?){40}[0-9]{40}",
        "fine": "=(?P<value>[0-9.]+) *kg",
    }

    found = dict(slow_layouts(slow))

    assert set(found) == {"cubes", "never"}
    assert "longer than 2 s" in found["never"]


def test_check_says_which_layout_and_what_to_write(tmp_path: Path) -> None:
    text = CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002")
    file = tmp_path / "neckyoke.toml"
    file.write_text(f"{text}\n[layouts.own]\npattern = '(?P<value>[0-9]*)[0-9]*[0-9]*[0-9]*x'\n")
    command = [sys.executable, "-m", "neckyoke.bridge.cli", "check", str(file)]
    ran = subprocess.run(command, check=False, cwd=ROOT, capture_output=True, text=True, timeout=60)

    assert ran.returncode == 2
    assert "[layouts.own] pattern: is slow: one frame can take" in ran.stderr
