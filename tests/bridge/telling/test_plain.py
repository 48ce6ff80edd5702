"""No text works the terminal it is shown on; what is printed to anything else stays as it is."""

import io
import json
import os
import pty
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.telling.plain import PlainTerminal, drawing, plain
from tests.support.daemon import ROOT


@given(st.text())
def test_only_line_ends_and_tabs_are_left_of_what_controls(text: str) -> None:
    """Against the categories of the Unicode character database: Cc controls."""
    left = [one for one in plain(text) if unicodedata.category(one) == "Cc"]

    assert set(left) <= {"\n", "\t"}
    assert plain(plain(text)) == plain(text)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("lame, near hind", "lame, near hind"),
        ("Überfütterung, 牛", "Überfütterung, 牛"),
        ("\x1b[2J\x1b]0;gone\x07", "\\x1b[2J\\x1b]0;gone\\x07"),
        ("good\rbad", "good\\rbad"),
        ("\x9b31m", "\\x9b31m"),  # the one-byte CSI of ECMA-48
        ("ab\u202edc", "ab\\u202edc"),  # UAX #9: right-to-left override
    ],
)
def test_controls_are_spelled_out(text: str, shown: str) -> None:
    assert plain(text) == shown


def test_our_own_drawing_goes_by_a_door_of_its_own() -> None:
    out = io.StringIO()
    terminal = PlainTerminal(out)
    print("a\x1b[2J", "b", file=terminal)
    terminal.writelines(["c\r", "d"])
    drawing(terminal).write("\r\x1b[K")  # type: ignore[arg-type]

    assert out.getvalue() == "a\\x1b[2J b\nc\\rd\r\x1b[K"


def test_a_hostile_file_of_events_does_not_work_the_terminal_of_a_tally(tmp_path: Path) -> None:
    nasty = "\x1b]0;owned\x07\x1b[2J"
    data = {
        "weighing": "w", "station": nasty, "number": 1, "on": "2026-11-24T02:11:00Z", "sheet": nasty, "pen": nasty,
        "weight": {"kg": 318.5, "grade": "good"}, "flags": [nasty], "notes": [nasty],
    }  # fmt: skip
    events = tmp_path / "events.jsonl"
    events.write_text(json.dumps({"type": "neckyoke.weighing", "data": data}, separators=(",", ":")) + "\n")
    near, far = pty.openpty()
    command = [sys.executable, "-m", "neckyoke.bridge.cli", "tally", str(events)]
    ran = subprocess.Popen(command, cwd=ROOT, stdout=far, stderr=far, env={**os.environ, "TERM": "xterm"})
    os.close(far)
    shown = b""
    try:
        while piece := os.read(near, 65536):
            shown += piece
    except OSError:  # the far end is closed
        pass
    finally:
        os.close(near)

    assert ran.wait(30) == 0
    assert b"\\x1b]0;owned" in shown
    assert b"\x1b" not in shown.replace(b"\r\x1b[K", b"")
