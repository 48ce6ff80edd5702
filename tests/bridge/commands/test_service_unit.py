"""The systemd unit, against systemd's own checks (Debian's package systemd)."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.commands.service import DROP_IN_PATH, MODULES_PATH, PACKAGED, UNIT_PATH, unit
from neckyoke.bridge.config.credentials import secret_path
from neckyoke.bridge.config.model import Config, load_config
from tests.support.daemon import CONFIG

MQTT = '[outlets.farm]\nmqtt = "mqtt://broker.local"\npassword_file = "broker.secret"\n'
EXPOSURE = 2.0
CALLED = """
access arch_prctl bind brk chmod clock_adjtime clock_gettime clone3 close connect epoll_create1 epoll_ctl
epoll_wait execve exit exit_group fcntl fdatasync flock fsync ftruncate futex getcwd getdents64 geteuid getpid
getrandom getsockname getsockopt gettid ioctl listen lseek madvise mkdir mmap mprotect munmap newfstatat openat
pipe2 poll pread64 prlimit64 pwrite64 read readlink recvfrom rseq rt_sigaction rt_sigprocmask rt_sigreturn
sched_getaffinity sendto set_robust_list set_tid_address setsockopt socket socketpair statfs statx sysinfo umask
uname unlink write
"""
"""What the daemon calls on x86-64 with two ports, a file, a broker and the page (strace; SQLite's fchown is root's)."""


def analyse(*words: str) -> str:
    program = shutil.which("systemd-analyze")
    if program is None:
        pytest.fail("systemd-analyze is needed: apt-get install systemd")
    ran = subprocess.run([program, *words], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout + ran.stderr


@pytest.fixture
def installed(tmp_path: Path) -> Path:
    """The files of an installation below a root of its own, the program a stand-in that is there for certain."""
    config = tmp_path / "etc" / "neckyoke.toml"
    config.parent.mkdir()
    config.write_text(CONFIG.format(indicator="serial:/dev/ttyUSB0", panel="tcp://127.0.0.1:9") + MQTT)
    assert main(["service", "install", "--config", str(config), "--root", str(tmp_path / "root")]) == 0
    path = tmp_path / "root" / UNIT_PATH
    text = path.read_text()
    path.write_text(re.sub(r"^ExecStart=\S+", f"ExecStart={sys.executable}", text, flags=re.MULTILINE))
    return tmp_path


def test_systemd_finds_no_fault_with_the_unit(installed: Path) -> None:
    assert analyse("verify", str(installed / "root" / UNIT_PATH)) == ""


def test_it_starts_nothing_but_the_daemon_and_the_shell(installed: Path) -> None:
    """Debian's smallest root lacks /bin/kill, which is procps'; a shell is essential in each (Debian Policy, 3.8)."""
    text = (installed / "root" / UNIT_PATH).read_text()
    assert {*re.findall(r"^Exec\w+=(\S+)", text, flags=re.MULTILINE)} == {sys.executable, "/bin/sh"}


def test_systemd_finds_the_unit_little_exposed(installed: Path) -> None:
    said = analyse("security", "--offline=true", str(installed / "root" / UNIT_PATH))
    (level,) = re.findall(r"Overall exposure level for \S+: ([\d.]+)", said)
    assert float(level) <= EXPOSURE


def test_every_kind_of_serial_port_is_allowed_and_its_driver_loaded_before(installed: Path) -> None:
    """Names of drivers: Linux, Documentation/admin-guide/devices.txt, and the modules' own (from memory)."""
    text = (installed / "root" / UNIT_PATH).read_text()
    modules = (installed / "root" / MODULES_PATH).read_text().split("\n")
    for group in ("ttyUSB", "ttyACM", "ttyAMA", "ttyS", "rfcomm"):
        assert f"DeviceAllow=char-{group} rw" in text
    for driver in ("usbserial", "ftdi_sio", "cp210x", "ch341", "pl2303", "cdc_acm", "rfcomm"):
        assert driver in modules


def system_calls() -> dict[str, set[str]]:
    """systemd's named sets of system calls, those within others spelled out."""
    sets: dict[str, list[str]] = {}
    name = ""
    for line in analyse("syscall-filter", "--no-pager").splitlines():
        if line.startswith("@"):
            name = line.split()[0]
            sets[name] = []
        elif line.startswith("    ") and not line.strip().startswith("#"):
            sets[name].append(line.strip())

    def spelled(name: str) -> set[str]:
        return {call for one in sets[name] for call in (spelled(one) if one.startswith("@") else {one})}

    return {name: spelled(name) for name in sets}


def test_every_system_call_of_the_daemon_passes_the_filter(installed: Path) -> None:
    """systemd.exec(5): the first line makes the list, each later one adds to it, or takes away with ~."""
    sets = system_calls()
    allowed: set[str] = set()
    for line in re.findall(r"^SystemCallFilter=(.*)$", (installed / "root" / UNIT_PATH).read_text(), re.MULTILINE):
        calls = {call for word in line.lstrip("~").split() for call in sets.get(word, {word})}
        allowed = allowed - calls if line.startswith("~") else allowed | calls
    assert set(CALLED.split()) <= allowed
    assert not {"mount", "init_module", "ptrace", "reboot", "setuid", "clock_settime"} & allowed


def test_bluetooth_sockets_are_allowed_only_where_a_link_opens_them_itself(installed: Path) -> None:
    config = installed / "etc" / "neckyoke.toml"
    assert "AF_INET6\n" in unit(config, load_config(config))
    config.write_text(CONFIG.format(indicator="rfcomm:AA:BB:CC:DD:EE:02?channel=1", panel="tcp://127.0.0.1:9"))
    assert "AF_INET6 AF_BLUETOOTH\n" in unit(config, load_config(config))


def test_files_with_secrets_are_handed_over_under_their_own_names(installed: Path) -> None:
    config = installed / "etc" / "neckyoke.toml"
    secret = config.parent / "broker.secret"
    secret.write_text("moss\n")
    handed = installed / "credentials"
    handed.mkdir()
    assert f"LoadCredential=broker.secret:{secret}\n" in unit(config, load_config(config))
    environ = {"CREDENTIALS_DIRECTORY": str(handed)}
    assert secret_path(config.parent, "broker.secret", environ) == secret
    (handed / "broker.secret").write_text("moss\n")
    assert secret_path(config.parent, "broker.secret", environ) == handed / "broker.secret"
    assert secret_path(config.parent, "broker.secret", {}) == secret


def test_commands_find_what_the_installed_daemon_keeps(monkeypatch: pytest.MonkeyPatch) -> None:
    tables = {"site": "larkmoor", "links": {}, "stations": {}}
    monkeypatch.delenv("STATE_DIRECTORY", raising=False)
    config = Config.model_validate(tables).model_copy(update={"folder": Path("/etc/neckyoke")})
    assert config.state_path("neckyoke.db") == Path("/var/lib/neckyoke/neckyoke.db")
    assert config.socket_path == Path("/run/neckyoke/neckyoke.sock")
    elsewhere = config.model_copy(update={"folder": Path("/home/pat")})
    assert elsewhere.state_path("neckyoke.db") == Path("/home/pat/neckyoke.db")
    assert elsewhere.socket_path == Path("/home/pat/neckyoke.sock")
    monkeypatch.setenv("STATE_DIRECTORY", "/var/lib/private/neckyoke")
    assert config.state_path("neckyoke.db") == Path("/var/lib/private/neckyoke/neckyoke.db")


def test_what_was_installed_is_taken_away_again(installed: Path) -> None:
    root = installed / "root"
    assert main(["service", "remove", "--root", str(root)]) == 0
    assert not [path for path in root.rglob("*") if path.is_file()]


def test_a_faulty_configuration_is_told_before_anything_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = tmp_path / "neckyoke.toml"
    config.write_text("sight = 'larkmoor'\n")
    assert main(["service", "install", "--config", str(config), "--root", str(tmp_path / "root")]) == 2
    assert "site" in capsys.readouterr().err
    assert not (tmp_path / "root").exists()


def test_beside_debians_package_only_what_the_configuration_adds_is_written(tmp_path: Path) -> None:
    root, config = tmp_path / "root", tmp_path / "neckyoke.toml"
    (root / PACKAGED).parent.mkdir(parents=True)
    (root / PACKAGED).write_text(unit(config, user="neckyoke"))
    words = ["--config", str(config), "--root", str(root)]
    config.write_text(CONFIG.format(indicator="rfcomm:AA:BB:CC:DD:EE:02?channel=1", panel="tcp://127.0.0.1:9") + MQTT)

    assert main(["service", "install", *words]) == 0
    added = (root / DROP_IN_PATH).read_text().splitlines()[1:]
    assert added == [
        "[Service]",
        f"LoadCredential=broker.secret:{tmp_path}/broker.secret",
        "RestrictAddressFamilies=AF_BLUETOOTH",
    ]
    assert not (root / UNIT_PATH).exists()

    config.write_text(CONFIG.format(indicator="tcp://127.0.0.1:8", panel="tcp://127.0.0.1:9"))
    assert main(["service", "install", *words]) == 0
    assert not (root / DROP_IN_PATH).exists(), "a line that is needed no more would stop the unit"


def test_a_user_who_exists_takes_the_place_of_the_one_that_systemd_makes_up(tmp_path: Path) -> None:
    assert "User=neckyoke\n" in unit(tmp_path, user="neckyoke")
    assert "DynamicUser" not in unit(tmp_path, user="neckyoke")
    assert "DynamicUser=yes\n" in unit(tmp_path)
