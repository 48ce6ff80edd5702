"""`neckyoke demo --page`: the page on one's own phone or computer, without hardware.

A simulated mob walks over a simulated scale at a farm's pace and goes round until stopped, a job each round.  The
daemon is the real one in a process of its own; whoever looks is the person at the crush, and may press everything.
"""

import asyncio
import contextlib
import itertools
import signal
import socket
import sys
from collections.abc import Callable
from functools import partial

from neckyoke.bridge.asking.socket import ask
from neckyoke.bridge.page import access
from neckyoke.bridge.page.invite import invitation, link
from neckyoke.simulators.day import Day
from neckyoke.simulators.wires.ends import PtyEnd, play
from neckyoke.simulators.yard import Yard

PORT = 8370
ROUND_PAUSE_S = 10.0
"""The gate is shut so long between two rounds."""
MISSING = "The page needs a few more packages: pip install 'neckyoke[page]'."
HELP = """\
{where}
A mob of {animals} goes round at a farm's pace until you stop it with Ctrl-C: in half a minute the first animal is
weighed.  Nobody says what happens at the crush but you: give the untagged one its ear number, touch what you see.
Whoever is on this network and has the code may look and press; nothing of it is real.
"""


def free_port(wanted: int = PORT) -> int:
    """Return a port that can be listened on: the one wanted, or any."""
    for port in (wanted, 0):
        with contextlib.suppress(OSError), socket.create_server(("", port)) as found:
            return int(found.getsockname()[1])
    raise OSError("no port can be listened on")


def own_address() -> str:
    """Return the address by which this machine is known on its network; nothing is sent to find it."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
        line.connect(("192.0.2.1", 9))  # TEST-NET-1 (RFC 5737): only the route to it is looked up
        return str(line.getsockname()[0])
    return "127.0.0.1"


def tell(port: int, code: str, animals: int, say: Callable[[str], object]) -> None:
    """Say where the page is."""
    outside, here = own_address(), f"On this computer: {link(f'http://127.0.0.1:{port}/', code)}"
    phone = "" if outside == "127.0.0.1" else invitation(f"http://{outside}:{port}/", code)
    say(HELP.format(where="\n".join(filter(None, (phone, here))) + "\n", animals=animals))


def _answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


async def go_round(day: Day, yard: Yard, port: int, say: Callable[[str], object], rounds: int | None = None) -> None:
    """Run the daemon and let the mob pass again and again, until a signal comes or `rounds` are over."""
    code = access.new_code()
    access.keep(day.folder / "page.code", code)
    with contextlib.ExitStack() as stack:
        ends = {name: stack.enter_context(PtyEnd(day.folder / name)) for name in ("indicator", "panel")}
        log = stack.enter_context(day.log.open("wb"))
        daemon = await asyncio.create_subprocess_exec(
            *(sys.executable, "-P", "-m", "neckyoke.bridge.cli", "run", "--config", str(day.config)),
            stdout=log,
            stderr=log,
            start_new_session=True,  # Ctrl-C is ours to pass on, once the mob has stopped
        )
        try:
            async with asyncio.timeout(30.0):
                while not _answers(port) and daemon.returncode is None:  # noqa: ASYNC110  # another process's port
                    await asyncio.sleep(0.05)
            tell(port, code, len(yard.mob), say)
            passing = asyncio.create_task(_pass(day, yard, ends, rounds))
            over = asyncio.create_task(daemon.wait())
            loop = asyncio.get_running_loop()
            for one in (signal.SIGINT, signal.SIGTERM):
                loop.add_signal_handler(one, passing.cancel)
            await asyncio.wait({passing, over}, return_when=asyncio.FIRST_COMPLETED)
            over.cancel()
            passing.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await passing
        finally:
            if daemon.returncode is None:
                daemon.send_signal(signal.SIGTERM)
            await daemon.wait()


async def _pass(day: Day, yard: Yard, ends: dict[str, PtyEnd], rounds: int | None) -> None:
    for turn in itertools.count(1) if rounds is None else range(1, rounds + 1):
        if turn > 1:
            await ask(day.socket, {"kind": "begin", "station": "crush", "file": "sheet.toml"})
        await play(yard.items(), ends)
        await asyncio.sleep(ROUND_PAUSE_S)


def run(day: Day, yard: Yard, port: int) -> int:
    """Run it until it is stopped."""
    say = partial(print, flush=True)
    asyncio.run(go_round(day, yard, port, say))
    say(f"\nStopped.  What was published lies in {day.events}.")
    return 0
