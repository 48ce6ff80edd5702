"""What the daemon tells systemd, against sd_notify(3), and that it is started again when it hangs."""

import asyncio
import signal
import socket
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.asking.socket import ask
from neckyoke.bridge.telling.systemd import notify, watchdog_s
from tests.support.daemon import CONFIG, ROOT
from tests.support.supervisor import Supervisor

WATCHDOG_S = 4.0
NO_PORTS = {"indicator": "serial:/dev/neckyoke-none?baud=9600", "panel": "tcp://127.0.0.1:9"}


@pytest.mark.parametrize("abstract", [False, True])
def test_a_state_is_one_datagram_to_the_socket_that_systemd_names(tmp_path: Path, abstract: bool) -> None:  # noqa: FBT001
    name = f"@neckyoke-{tmp_path.name}-{id(tmp_path)}" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as systemd:
        systemd.bind("\0" + name[1:] if abstract else name)
        assert notify("READY=1", {"NOTIFY_SOCKET": name})
        assert systemd.recv(100) == b"READY=1"


def test_without_systemd_nothing_is_said_and_nothing_fails(tmp_path: Path) -> None:
    assert not notify("READY=1", {})
    assert not notify("READY=1", {"NOTIFY_SOCKET": str(tmp_path / "nobody")})


def test_the_watchdog_is_only_for_the_process_it_names() -> None:
    """sd_watchdog_enabled(3): WATCHDOG_USEC in microseconds; WATCHDOG_PID, when set, must be ours."""
    assert watchdog_s({"WATCHDOG_USEC": "30000000"}) == 30.0
    assert watchdog_s({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "77"}, pid=77) == 30.0
    assert watchdog_s({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "78"}, pid=77) is None
    assert watchdog_s({}) is None
    assert watchdog_s({"WATCHDOG_USEC": "often"}) is None


@pytest.fixture
def supervisor(tmp_path: Path) -> Iterator[Supervisor]:
    config = tmp_path / "neckyoke.toml"
    config.write_text(CONFIG.format(**NO_PORTS))
    command = [sys.executable, "-m", "tests.support.stuck_daemon", str(config)]
    with Supervisor(command, tmp_path, WATCHDOG_S, cwd=ROOT) as made:
        yield made


@pytest.mark.parametrize("hang", [signal.SIGUSR1, signal.SIGUSR2], ids=["the loop blocked", "the journal stuck"])
def test_a_daemon_that_hangs_is_started_again(supervisor: Supervisor, hang: signal.Signals, tmp_path: Path) -> None:
    supervisor.until_heard("READY=1")
    supervisor.until_heard("WATCHDOG=1", times=2)
    supervisor.process.send_signal(hang)

    supervisor.until_heard("READY=1", times=2)

    assert supervisor.endings[-1] == -signal.SIGABRT
    answer = asyncio.run(ask(tmp_path / "neckyoke.sock", {"kind": "status"}))
    assert answer["status"]["pid"] == supervisor.process.pid


def test_a_daemon_told_to_stop_says_so_and_ends_well(supervisor: Supervisor) -> None:
    supervisor.until_heard("READY=1")
    supervisor.process.send_signal(signal.SIGTERM)
    supervisor.until_heard("STOPPING=1")
    while not supervisor.endings:
        supervisor.turn()
    assert supervisor.endings == [0]
