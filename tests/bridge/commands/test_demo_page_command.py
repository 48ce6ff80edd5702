"""`neckyoke demo --page`, and the QR code by which a phone is let in."""

import os
import re
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from neckyoke.bridge.commands.demo_page import free_port, own_address
from neckyoke.bridge.page.invite import BRIGHT, invitation, link, qr
from tests.support.daemon import until

WHERE = "http://192.168.1.20:8370/"


class Terminal:
    """An output that is one, or not."""

    def __init__(self, *, is_terminal: bool) -> None:
        self._is_terminal = is_terminal

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self._is_terminal


def test_the_qr_code_says_address_and_code_and_has_the_size_that_the_standard_gives_it() -> None:
    """ISO/IEC 18004: version 3 is 29 modules wide, and holds 53 bytes at level L; two modules of margin around."""
    pytest.importorskip("segno")
    drawn = qr(link(WHERE, "482913067"), Terminal(is_terminal=False))  # type: ignore[arg-type]
    assert drawn is not None
    lines = drawn.splitlines()
    assert {len(line) for line in lines} == {29 + 2 * 2}
    assert len(lines) == (29 + 2 * 2 + 1) // 2
    assert "\x1b" not in drawn
    finder = [line[2:9] for line in lines[1:5]]
    assert finder == [" ▄▄▄▄▄ ", " █   █ ", " █▄▄▄█ ", "▄▄▄▄▄▄▄"], "a finder pattern: 7 by 7, with a 3 by 3 heart"


def test_on_a_terminal_of_any_colours_it_is_black_on_white() -> None:
    pytest.importorskip("segno")
    drawn = qr("x", Terminal(is_terminal=True))  # type: ignore[arg-type]
    assert drawn is not None
    assert all(line.startswith(BRIGHT) for line in drawn.splitlines())


def test_without_the_package_the_link_is_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "segno", None)
    assert qr("x") is None
    assert invitation(WHERE, "482913067") == f"On a phone in the same network: {WHERE}#code=482913067"


def test_a_port_is_found_also_when_the_usual_one_is_taken() -> None:
    assert free_port(0) > 0
    assert re.fullmatch(r"[0-9.]+", own_address())


def test_the_page_is_there_with_animals_and_the_code_in_the_link_until_it_is_stopped(tmp_path: Path) -> None:
    pytest.importorskip("starlette")
    said = tmp_path / "said"
    command = [sys.executable, "-m", "neckyoke.bridge.cli", "demo", "--page", "--folder", str(tmp_path / "demo")]
    with said.open("wb") as out:
        demo = subprocess.Popen(command, stdout=out, stderr=out, cwd=tmp_path, start_new_session=True)
    try:
        until(lambda: b"#code=" in said.read_bytes() or demo.poll() is not None, "the link")
        found = re.search(r"On this computer: (http://127\.0\.0\.1:\d+/)#code=(\d{9})", said.read_text())
        assert found, said.read_text()
        request = urllib.request.Request(f"{found[1]}jobs", headers={"x-neckyoke-code": found[2]})
        with urllib.request.urlopen(request, timeout=30) as answer:
            assert answer.status == 200
        events = tmp_path / "demo" / "events.jsonl"
        until(lambda: events.exists() and "neckyoke.settled" in events.read_text(), "the first animal")
    finally:
        os.killpg(demo.pid, signal.SIGINT)
        assert demo.wait(60) == 0
    assert "Stopped." in said.read_text()
