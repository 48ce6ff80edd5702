"""How the daemon is, from a terminal: `status` and `watch` on a real one."""

import contextlib
import json
import os
import pty
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from neckyoke.simulators.wires.ends import PtyEnd
from tests.support.daemon import CONFIG, ROOT, Daemon, until

SCALE = b"ST,GS,+00000.0kg\r\n"


@pytest.fixture
def wires(tmp_path: Path) -> Iterator[dict[str, PtyEnd]]:
    with PtyEnd(tmp_path / "indicator") as indicator, PtyEnd(tmp_path / "panel") as panel:
        yield {"indicator": indicator, "panel": panel}


@pytest.fixture
def daemon(tmp_path: Path, wires: dict[str, PtyEnd]) -> Iterator[Daemon]:
    text = CONFIG.format(indicator=f"serial:{tmp_path}/indicator", panel=f"serial:{tmp_path}/panel")
    made = Daemon(tmp_path, text)
    yield made.start()
    made.close()


def both_read(daemon: Daemon, wires: dict[str, PtyEnd]) -> bool:
    wires["indicator"].write(SCALE)
    wires["panel"].write(b"999 000000112233\r\n")
    return all(link["frames"] for link in daemon.ask({"kind": "status"})["status"]["links"].values())


def status(daemon: Daemon, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, str]:
    code = main(["status", "--config", str(daemon.config), *more])
    return code, capsys.readouterr().out


def test_one_screen_and_an_exit_code_say_how_it_is(
    daemon: Daemon, wires: dict[str, PtyEnd], capsys: pytest.CaptureFixture[str]
) -> None:
    until(lambda: both_read(daemon, wires), "both devices read")
    code, said = status(daemon, capsys)
    assert code == 0, said
    assert "Nothing is wrong." in said
    assert len(said.splitlines()) <= 24  # a terminal's screen
    for words in ("larkmoor", "station crush: 0 animals", "link indicator: up", "outlet events: file, "):
        assert words in said

    wires["panel"].unplug()
    until(lambda: status(daemon, capsys)[0] == 1, "the loss")
    code, said = status(daemon, capsys)
    assert "!  panel is " in said
    assert "hung up" in said or "is not there" in said


def test_a_scale_that_went_away_under_an_animal_shows_no_weight(
    daemon: Daemon, wires: dict[str, PtyEnd], capsys: pytest.CaptureFixture[str]
) -> None:
    until(lambda: both_read(daemon, wires), "both devices read")

    def settled() -> bool:
        wires["indicator"].write(b"ST,GS,+00318.5kg\r\n")
        return "now 318.5 kg, settled.  Weighed: let it go." in status(daemon, capsys)[1]

    until(settled, "a weight")
    wires["indicator"].unplug()

    def lost() -> bool:
        said = status(daemon, capsys)[1]
        return "now —, " in said and "The scale is not heard: see to indicator." in said

    until(lost, "the loss")


def test_what_cannot_be_read_is_said_with_a_remedy_that_can_be_followed(
    daemon: Daemon, wires: dict[str, PtyEnd], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    remedy = f"Stop neckyoke, which holds the port, and run: neckyoke listen 'serial:{tmp_path}/indicator'"

    def told() -> bool:
        wires["indicator"].write(b"\x13\x37\xff\xfe\x02noise\r\n" * 20)
        return remedy in status(daemon, capsys)[1]

    until(told, "the trouble")


def test_figures_for_programs(daemon: Daemon, wires: dict[str, PtyEnd], capsys: pytest.CaptureFixture[str]) -> None:
    until(lambda: both_read(daemon, wires), "both devices read")
    figures = json.loads(status(daemon, capsys, "--format", "json")[1])
    assert figures["site"] == "larkmoor"
    text = status(daemon, capsys, "--format", "openmetrics")[1]
    assert text.endswith("# EOF\n")
    assert 'neckyoke_link_state{site="larkmoor",link="panel",neckyoke_link_state="up"} 1' in text


def test_without_a_daemon_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = tmp_path / "neckyoke.toml"
    config.write_text(CONFIG.format(indicator="tcp://127.0.0.1:9", panel="tcp://127.0.0.1:9"))
    assert main(["status", "--config", str(config)]) == 1
    assert "neckyoke.sock" in capsys.readouterr().err


def has_ended(process: subprocess.Popen[bytes], terminal: int) -> bool:
    """Take what it still writes: a terminal that nobody reads holds up whoever writes to it."""
    with contextlib.suppress(OSError):
        os.read(terminal, 4096)
    return process.poll() is not None


def test_watch_in_a_terminal_shows_the_platform_and_what_goes_wrong(daemon: Daemon, wires: dict[str, PtyEnd]) -> None:
    until(lambda: both_read(daemon, wires), "both devices read")
    assert daemon.ask({"kind": "begin"})["done"]
    shown = b""
    terminal, theirs = pty.openpty()
    command = [sys.executable, "-m", "neckyoke.bridge.cli", "watch", "--config", str(daemon.config)]
    watching = subprocess.Popen(command, cwd=ROOT, stdin=theirs, stdout=theirs, stderr=theirs)
    os.close(theirs)
    os.set_blocking(terminal, False)
    try:
        end = time.monotonic() + 60
        while b"panel: lost" not in shown and b"panel: missing" not in shown:
            assert time.monotonic() < end, shown
            wires["indicator"].write(SCALE)
            if b"platform empty" in shown:
                daemon.ask({"kind": "pause"})
                wires["panel"].unplug()
            try:
                shown += os.read(terminal, 4096)
            except BlockingIOError:
                time.sleep(0.02)
    finally:
        watching.send_signal(signal.SIGINT)
        until(lambda: has_ended(watching, terminal), "watch to end")
        os.close(terminal)
    text = shown.decode()
    assert "no.  tag" in text
    assert "crush: job 1, no sheet, begun " in text
    assert "crush: job 1, no sheet, is paused: a person paused it" in text
    assert text.count("panel: up") == 1  # it was before we watched
    assert "kg · platform empty · Ready for the next animal." in text
