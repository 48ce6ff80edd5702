"""`neckyoke run`: the daemon."""

import argparse
import asyncio
import signal
import sys
from collections.abc import Awaitable, Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from neckyoke.bridge import imports
from neckyoke.bridge.commands.daemon import WHERE
from neckyoke.bridge.config.model import Config, load_config

if TYPE_CHECKING:
    from neckyoke.bridge.daemon.service import Service


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", nargs="?", type=Path, help=f"the configuration ({WHERE})")
    parser.add_argument("--config", "-c", type=Path, help="the same, as the other commands spell it")
    parser.add_argument("--verbose", action="store_true", help="log more")


def run(args: argparse.Namespace) -> int:
    """Run until told to stop by SIGTERM or SIGINT."""
    with imports.kept():
        config = load_config(args.file or args.config)
        from neckyoke.bridge.telling import log

        log.configure(verbose=args.verbose)
        from neckyoke.bridge.daemon.build import build

    return asyncio.run(serve(config, build))


async def serve(config: Config, build: "Callable[[Config], Awaitable[Service]]") -> int:
    """Run the service under signals; 0 after a clean stop, 1 when it cannot begin or leaves something unwritten."""
    from neckyoke.bridge.asking.socket import ControlError
    from neckyoke.bridge.journal.journal import JournalError
    from neckyoke.bridge.telling.systemd import notify

    stop = asyncio.Event()
    loop = asyncio.get_running_loop()

    def halt() -> None:
        notify("STOPPING=1")
        stop.set()

    reloading: set[asyncio.Task[None]] = set()

    def reload(service: "Service") -> None:
        reloading.add(task := asyncio.create_task(_reload(service)))
        task.add_done_callback(reloading.discard)

    loop.add_signal_handler(signal.SIGHUP, lambda: None)  # until there is something to read again
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, halt)
    try:
        service = await build(config)
        loop.add_signal_handler(signal.SIGHUP, reload, service)
        await service.run(stop, partial(notify, "READY=1"))
    except (JournalError, ControlError) as error:
        print(f"neckyoke cannot run: {error}", file=sys.stderr)
        return 1
    except PermissionError as error:
        hint = "once installed it is started by: sudo systemctl start neckyoke"
        print(f"neckyoke cannot run: this user may not use {error.filename}; {hint}", file=sys.stderr)
        return 1
    return 1 if service.journal.left[0] else 0


async def _reload(service: "Service") -> None:
    import structlog

    answer = await service.desk.ask({"kind": "reload"})
    structlog.get_logger().info("read again", said=answer["text"])
