"""Serial ports: settings as the kernel has them, and what is said when a port will not open."""

import asyncio
import errno
import fcntl
import grp
import os
import pwd
import subprocess
import sys
import termios
import threading
import time
from pathlib import Path
from typing import Any

import pytest
import serial

from neckyoke.bridge.config.address import parse_address
from neckyoke.bridge.links.serial.devices import holders, permission_trouble, remedy
from neckyoke.bridge.links.serial.port import port_settings
from neckyoke.bridge.links.wires import descriptor, link, offloop
from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.simulators.wires.ends import PtyEnd
from tests.support.running import run, until
from tests.support.wires import Listener, descriptors, opened

pytestmark = pytest.mark.usefixtures("no_leaks")


def settings_of(options: str) -> dict[str, Any]:
    return port_settings(parse_address(f"serial:/dev/ttyUSB0?{options}"))


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        ("", {"baudrate": 9600, "bytesize": 8, "parity": "N", "stopbits": 1}),
        ("baud=4800&bits=7&parity=even", {"baudrate": 4800, "bytesize": 7, "parity": "E", "stopbits": 1}),
        ("parity=odd&stop=2", {"parity": "O", "stopbits": 2}),
        ("stop=1.5", {"stopbits": 1.5}),
        ("flow=rtscts", {"rtscts": True}),
        ("flow=xonxoff", {"xonxoff": True}),
        ("flow=dsrdtr", {"dsrdtr": True}),
        ("dtr=off&rts=on", {"dtr": False, "rts": True}),
    ],
)
def test_options_become_settings(options: str, expected: dict[str, Any]) -> None:
    settings = settings_of(options)
    assert {key: settings[key] for key in expected} == expected
    lines = {"dtr", "rts"}
    serial.Serial(**{key: value for key, value in settings.items() if key not in lines})  # pyserial takes them


def test_the_kernel_has_the_settings_asked_for(tmp_path: Path) -> None:
    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:
            listener = await opened(f"serial:{end.path}?baud=4800&stop=2&flow=xonxoff")
            iflag, _, cflag, _, speed, _, _ = termios.tcgetattr(end._slave)
            assert speed == termios.B4800
            assert cflag & termios.CSTOPB
            assert iflag & termios.IXON
            await listener.link.close()

    run(work())


def test_a_port_is_held_alone(tmp_path: Path) -> None:
    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:
            first = await opened(f"serial:{end.path}")
            with pytest.raises(LinkTrouble, match="held by another program"):
                await Listener(f"serial:{end.path}").link.open()
            with pytest.raises(OSError, match=r"temporarily unavailable|busy"):  # the latter when not root
                serial.Serial(str(end.path), exclusive=True)
            await first.link.close()
            serial.Serial(str(end.path), exclusive=True).close()

    run(work())


HOLDER = """
import fcntl, sys
port = open(sys.argv[1], "rb", 0)
fcntl.flock(port, fcntl.LOCK_EX)
print(flush=True)
input()
"""


def test_the_program_that_holds_a_port_is_named(tmp_path: Path) -> None:
    async def work(pid: int) -> None:
        with pytest.raises(LinkTrouble, match=rf"\({pid}\)"):
            await Listener(f"serial:{end.path}").link.open()

    command = [sys.executable, "-c", HOLDER, str(tmp_path / "port")]
    with (
        PtyEnd(tmp_path / "port") as end,
        subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as other,
    ):
        assert other.stdout is not None
        other.stdout.readline()
        assert other.pid in {holder.pid for holder in holders(end.path)}
        run(work(other.pid))
        other.communicate(b"\n")


def test_what_is_no_serial_port_is_said(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("no port")

    async def work(path: Path, says: str) -> LinkTrouble:
        with pytest.raises(LinkTrouble, match=says) as trouble:
            await Listener(f"serial:{path}").link.open()
        return trouble.value

    assert not run(work(file, "no serial port")).missing
    assert not run(work(tmp_path, "cannot be opened")).missing
    assert run(work(tmp_path / "absent", "is not there")).missing
    assert run(work(Path("/dev/ttyUSB77"), "neckyoke ports")).missing


def test_a_stable_name_is_followed_anew_at_each_opening(tmp_path: Path) -> None:
    async def work() -> None:
        one, two = PtyEnd(tmp_path / "one"), PtyEnd(tmp_path / "two")
        name = tmp_path / "by-id"
        with one, two:
            for end, line in ((one, b"one\r\n"), (two, b"two\r\n")):
                name.unlink(missing_ok=True)
                name.symlink_to(end.path)
                listener = await opened(f"serial:{name}")
                end.write(line)
                await listener.has(line)
                await listener.link.close()

    run(work())


def test_a_permission_trouble_names_all_that_mends_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    node = tmp_path / "ttyUSB0"
    denied, forbidden = (OSError(number, "no") for number in (errno.EACCES, errno.EPERM))

    def be(mode: int, gid: int) -> None:
        status = os.stat_result((0o020000 | mode, 1, 1, 1, 0, gid, 0, 0, 0, 0))
        monkeypatch.setattr(Path, "stat", lambda *_, **__: status)

    be(0o660, 20)
    text = permission_trouble(str(node), denied).text
    us = pwd.getpwuid(os.geteuid()).pw_name
    for part in (str(node), "owner root, group dialout, mode 0660", f"sudo usermod -aG dialout {us}", f"{us} is in "):
        assert part in text
    assert grp.getgrgid(os.getegid()).gr_name in text
    assert "DeviceAllow" in permission_trouble(str(node), forbidden).text
    be(0o600, 0)
    assert "udev" in remedy(node, "pi")  # joining the group root is no remedy
    monkeypatch.undo()
    assert "dialout" in remedy(tmp_path / "gone", "pi")


def test_a_refused_open_becomes_that_trouble(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.open

    def refuse(path: Any, *more: Any, **named: Any) -> int:
        if str(path).startswith("/dev/pts/"):
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return real(path, *more, **named)

    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:
            monkeypatch.setattr(os, "open", refuse)
            with pytest.raises(LinkTrouble, match="may not be opened by") as trouble:
                await Listener(f"serial:{end.path}").link.open()
            assert not trouble.value.missing
            monkeypatch.setattr(os, "open", real)

    run(work())


def test_a_port_that_opens_too_late_is_closed_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = serial.Serial.open
    asked, given_up, came = threading.Event(), threading.Event(), threading.Event()

    def slow(port: serial.Serial) -> None:
        asked.set()
        assert given_up.wait(30)
        real(port)
        came.set()

    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:
            before = descriptors()
            monkeypatch.setattr(serial.Serial, "open", slow)
            opening = asyncio.ensure_future(Listener(f"serial:{end.path}").link.open())
            await until(asked.is_set, "the port is being opened")
            opening.cancel()
            await asyncio.wait({opening})
            assert opening.cancelled()
            given_up.set()
            await until(came.is_set, "it is open, too late")
            await until(lambda: len(descriptors()) <= len(before), "the late port is closed")
            monkeypatch.setattr(serial.Serial, "open", real)

    run(work())


def test_a_port_that_hangs_in_close_is_left_to_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(link, "RELEASE_S", 0.1)
    real = serial.Serial.close

    def slow(port: serial.Serial) -> None:
        time.sleep(0.6)
        real(port)

    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:
            before = descriptors()
            listener = await opened(f"serial:{end.path}")
            monkeypatch.setattr(serial.Serial, "close", slow)
            end.unplug()
            await listener.is_lost()  # told although the driver still hangs
            await listener.link.close()
            await until(lambda: len(descriptors()) < len(before), "the port is closed in the end")
            monkeypatch.setattr(serial.Serial, "close", real)

    run(work())


def test_a_device_that_takes_no_bytes_is_said_and_closing_frees_who_waits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(descriptor, "WRITE_S", 0.1)

    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:
            listener = await opened(f"serial:{end.path}")
            with pytest.raises(LinkTrouble, match="takes no bytes"):
                await listener.link.write(bytes(1_000_000))
            end.write(b"still heard\r\n")
            await listener.has(b"still heard\r\n")
            monkeypatch.setattr(descriptor, "WRITE_S", 30.0)
            writing = asyncio.ensure_future(listener.link.write(bytes(1_000_000)))
            await asyncio.sleep(0.05)
            await listener.link.close()
            with pytest.raises(LinkTrouble):
                await writing

    run(work())


def test_the_kernel_refuses_the_port_to_others_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    real = fcntl.ioctl

    def spy(fd: Any, request: int, *more: Any) -> Any:
        asked.append(request)
        return real(fd, request, *more)

    async def work() -> None:
        with PtyEnd(tmp_path / "port") as end:
            monkeypatch.setattr(fcntl, "ioctl", spy)
            await (await opened(f"serial:{end.path}")).link.close()

    run(work())
    assert asked.index(termios.TIOCEXCL) < asked.index(termios.TIOCNXCL)


def test_a_call_off_the_loop_hands_on_its_error_and_its_result() -> None:
    def fail() -> int:
        raise LinkTrouble("no")

    async def work() -> None:
        assert await offloop.off_loop(lambda: 5) == 5
        with pytest.raises(LinkTrouble, match="no"):
            await offloop.off_loop(fail)

    run(work())
