"""Notifies systemd of the service's state: sd_notify(3), which is one datagram, and the watchdog.

The watchdog is fed only while the daemon is truly alive: the feeding task runs on the event loop, so a blocked loop
starves it, and each time it asks whether the journal's thread still answers.
"""

import asyncio
import os
import socket
from collections.abc import Callable, Mapping


def notify(state: str, environ: Mapping[str, str] = os.environ) -> bool:
    """Send a state such as READY=1 to systemd; False when the process was not started by it, or nobody listens."""
    address = environ.get("NOTIFY_SOCKET", "")
    if not address:
        return False
    if address.startswith("@"):  # the abstract name space
        address = "\0" + address[1:]
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as out:
            out.sendto(state.encode(), address)
    except OSError:
        return False
    return True


def watchdog_s(environ: Mapping[str, str] = os.environ, pid: int | None = None) -> float | None:
    """Return how often systemd wants to be fed at the latest, in seconds; None when it does not want to be."""
    for_pid = environ.get("WATCHDOG_PID")
    if for_pid is not None and for_pid != str(pid or os.getpid()):
        return None
    try:
        every_s = int(environ.get("WATCHDOG_USEC", "0")) / 1e6
    except ValueError:
        return None
    return every_s or None


async def feed(alive: Callable[[], bool], every_s: float) -> None:
    """Feed the watchdog twice as often as it wants, for as long as `alive` says so."""
    while True:
        if alive():
            notify("WATCHDOG=1")
        await asyncio.sleep(every_s / 2)
