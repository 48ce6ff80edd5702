"""`neckyoke watch`: what the running daemon sees, live in a terminal."""

import argparse
import asyncio
import json
import sys
from pathlib import Path

from neckyoke.bridge.commands.daemon import add_daemon, socket_of
from neckyoke.bridge.commands.status import troubles
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import read_event
from neckyoke.bridge.telling.status import PlatformView
from neckyoke.bridge.telling.terminal import HEADER, Now, Screen, job_line, line


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--json", action="store_true", help="events and live views as they come, one a line")
    add_daemon(parser)


def run(args: argparse.Namespace) -> int:
    """Watch until the daemon stops, or Ctrl-C."""
    from neckyoke.bridge.asking.socket import ControlError

    try:
        asyncio.run(_watch(socket_of(args, load_config(args.config)), as_json=args.json))
    except ControlError as error:
        print(error, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print()
    return 0


async def _watch(socket: Path, *, as_json: bool) -> None:
    from neckyoke.bridge.asking.socket import ask_status, watch

    screen, now = Screen(), Now()
    several = False
    if not as_json:
        figures = await ask_status(socket)
        several = len(figures.stations) > 1
        for name, station in figures.stations.items():
            screen.keep(f"   ·  {name}: {station.job.text if station.job else 'no job is open'}")
        for text in troubles(figures):
            screen.keep(f"   !  {text}")
        screen.keep(HEADER)
    async for text in watch(socket):
        record = json.loads(text)
        if as_json:
            print(text, flush=True)
        elif "live" in record:
            view = PlatformView.model_validate(record["live"])
            screen.now((f"{view.station}  " if several else "") + now.line(view))
        elif "specversion" in record:
            event = read_event(text)
            now.take(event)
            if (row := job_line(event) or line(event)) is not None:
                screen.keep(row)
