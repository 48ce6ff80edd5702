"""A serial port: pyserial opens and sets it, the event loop reads its descriptor.

The port is opened and closed off the loop (both may block), read on it (descriptor.py).  Names
under /dev/serial are followed anew at each opening, since the node behind them moves.
"""

import asyncio
import contextlib
import errno
import fcntl
import os
import re
import termios
from typing import Any, TypeAlias

import serial

from neckyoke.bridge.config.address import Address
from neckyoke.bridge.links.serial.devices import busy_trouble, permission_trouble
from neckyoke.bridge.links.wires.descriptor import DescriptorLink
from neckyoke.bridge.links.wires.link import LinkTrouble, OnBytes, OnLost
from neckyoke.bridge.links.wires.offloop import off_loop

OPEN_S = 10.0
Port: TypeAlias = serial.Serial

MOVES = re.compile(r"/dev/tty(USB|ACM)[0-9]+")
"""Names that change when adapters are replugged."""


def port_settings(address: Address) -> dict[str, Any]:
    """Turn a URL's options, which `parse_address` has checked, into pyserial's settings.

    Nothing said is 9600 baud, 8 data bits, no parity, 1 stop bit, no flow control, DTR and RTS on.
    """
    options = address.options
    stop = options.get("stop", "1")
    flow = options.get("flow", "none")
    settings: dict[str, Any] = {
        "baudrate": int(options.get("baud", "9600")),
        "bytesize": int(options.get("bits", "8")),
        "parity": options.get("parity", "none")[0].upper(),
        "stopbits": 1.5 if stop == "1.5" else int(stop),
        **({} if flow == "none" else {flow: True}),
    }
    return settings | {line: options[line] == "on" for line in ("dtr", "rts") if line in options}


def _number(error: BaseException | None) -> int | None:
    """Find the error number in an error or in what caused it; termios.error is no OSError."""
    while error is not None:
        if isinstance(error, termios.error):
            return int(error.args[0])
        if isinstance(error, OSError) and error.errno is not None:
            return error.errno
        error = error.__context__
    return None


def _explain(path: str, error: Exception) -> LinkTrouble:
    """Return why opening failed.  pyserial wraps the cause, or is one itself (SerialException is an OSError)."""
    number = _number(error)
    cause = OSError(number or 0, os.strerror(number) if number else str(error))
    if number in {errno.ENOENT, errno.ENODEV, errno.ENXIO}:
        moved = "  Such names move; `neckyoke ports` shows the lasting one." if MOVES.fullmatch(path) else ""
        return LinkTrouble(f"{path} is not there: is the cable in, and the device on?{moved}", missing=True)
    if number in {errno.EACCES, errno.EPERM}:
        return permission_trouble(path, cause)
    if number in {errno.EBUSY, errno.EAGAIN}:
        return busy_trouble(path)
    if number in {errno.ENOTTY, errno.EINVAL} or isinstance(error, ValueError):
        return LinkTrouble(f"{path} takes no such settings, or is no serial port ({error})")
    return LinkTrouble(f"{path} cannot be opened: {error}")


def _open_port(path: str, settings: dict[str, Any]) -> Port:
    """Open and set the port (in a thread).  Raises LinkTrouble."""
    lines = {line: settings.pop(line) for line in ("dtr", "rts") if line in settings}
    port = serial.Serial(**settings, timeout=0, exclusive=True)
    for line, level in lines.items():
        setattr(port, line, level)  # before opening: some boards reset when DTR rises
    port.port = os.path.realpath(path)
    try:
        port.open()
        # the lock above is advice to programs that ask for it; this one is kept by the kernel (but not against root)
        fcntl.ioctl(port.fileno(), termios.TIOCEXCL)
    except (serial.SerialException, OSError, termios.error, ValueError) as error:
        port.close()
        raise _explain(path, error) from error
    return port


def _close_port(port: Port) -> None:
    """Close the port (in a thread).  What is unsent is thrown away: draining may take for ever."""
    with contextlib.suppress(OSError, termios.error, serial.SerialException):
        fcntl.ioctl(port.fileno(), termios.TIOCNXCL)
        termios.tcflush(port.fileno(), termios.TCIOFLUSH)
    with contextlib.suppress(OSError, serial.SerialException):
        port.close()


class SerialLink(DescriptorLink):
    """A serial port by path; see the module."""

    def __init__(self, address: Address, on_bytes: OnBytes, on_lost: OnLost) -> None:
        super().__init__(on_bytes, on_lost)
        self._path = address.target
        self._settings = port_settings(address)
        self._port: Port | None = None

    def trace(self) -> object:
        """Return which node the path leads to and since when: a replug changes it, and so does mended permission."""
        try:
            node = os.stat(self._path)  # noqa: PTH116  # called twice a second while the device is away
        except OSError:
            return None
        return node.st_dev, node.st_ino, node.st_rdev, node.st_ctime_ns

    async def _connect(self) -> None:
        try:
            async with asyncio.timeout(OPEN_S):
                self._port = await off_loop(lambda: _open_port(self._path, dict(self._settings)), _close_port)
        except TimeoutError:
            raise LinkTrouble(f"{self._path} did not open within {OPEN_S:.0f} s: unplug the adapter once") from None
        self._attach(self._port.fileno())

    def _gone(self, why: str) -> LinkTrouble:
        said = f" ({why})" if why else ""
        return LinkTrouble(f"{self._path} hung up{said}: unplugged, or the adapter lost power", missing=True)

    async def _release(self) -> None:
        port, self._port = self._port, None
        self._detach()
        if port is not None:
            await off_loop(lambda: _close_port(port))
