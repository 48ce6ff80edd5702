"""`neckyoke check` tries the patterns of one's own layouts on hard lines, for a bounded time."""

import re
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.config import patterns
from neckyoke.bridge.config.patterns import SLOW_S, TRIES, slow_layouts, slowest_s
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


def _clock(*taken_s: float) -> Iterator[float]:
    """Show the beginning and the end of each try, then of tries that take no time."""
    t = 0.0
    for taken in taken_s:
        yield t
        yield (t := t + taken)
    while True:
        yield t


@pytest.mark.parametrize(
    ("taken_s", "slowest"),
    [
        ((2 * SLOW_S, SLOW_S / 2), SLOW_S / 2),  # a busy neighbour, once
        ((3 * SLOW_S, 2 * SLOW_S, 4 * SLOW_S), 2 * SLOW_S),  # slow each time: the least of them
        ((3 * SLOW_S,) * TRIES + (0.0,), 3 * SLOW_S),  # no try too many
        ((SLOW_S / 2, 9 * SLOW_S, 0.0), SLOW_S / 2),  # what was quick is not tried again
    ],
)
def test_a_slow_line_is_tried_again_and_its_quickest_counts(
    monkeypatch: pytest.MonkeyPatch, taken_s: tuple[float, ...], slowest: float
) -> None:
    ticks = _clock(*taken_s)
    monkeypatch.setattr(time, "thread_time", lambda: next(ticks))

    assert slowest_s(re.compile(rb"(?P<value>[0-9]+)")) == pytest.approx(slowest)
