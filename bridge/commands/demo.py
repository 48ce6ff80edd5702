"""`neckyoke demo`: a simulated yard, end to end.

Without --fast the yard's indicator and reader are real terminals (ptys), the daemon is the real one in a process of its
own, and what is shown comes from its socket.  With --fast the same yard goes through `replay` as quickly as it can.
"""

import argparse
import asyncio
import contextlib
import json
import signal
import sys
import time
from pathlib import Path

from neckyoke.bridge.asking.socket import ControlError, ask, watch
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Event, Flag, Settled, Weighing, read_event
from neckyoke.bridge.telling.status import PlatformView
from neckyoke.bridge.telling.terminal import HEADER, Now, Screen, advice, legend, line, settled_line
from neckyoke.simulators.day import Day, lay_out, record
from neckyoke.simulators.wires.ends import PtyEnd, play
from neckyoke.simulators.yard import Yard

ENDS = ("indicator", "panel")
MOST = 10_000
DEADLINE_S = 30.0
"""How long the daemon may take to begin, or to write the last weighing."""

NEXT = """\
What next:
  {program} demo --page                      the page of it on your own phone, for as long as you like
  {program} tally {events} --html day.html   the day on one printable page
  {program} export {events} --out day.csv    for a spreadsheet
  {program} ports                            your own devices, with what to write for each
  {program} listen URL                       what one of them sends, with what to write\
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--animals", type=_animals, metavar="N", help="how many animals (8; with --page 40)")
    parser.add_argument("--seed", type=int, default=7, help="another seed, another day (7)")
    parser.add_argument("--fast", action="store_true", help="simulated time: done in a moment")
    parser.add_argument(
        "--page", action="store_true", help="the page on your own phone or computer: a mob goes round until stopped"
    )
    parser.add_argument("--folder", type=Path, default=Path("neckyoke-demo"), help="where the day's files go")


def _animals(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= MOST:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of animals: write one from 1 to {MOST}")
    return int(text)


def run(args: argparse.Namespace) -> int:
    """Run the demo and say where the events are."""
    args.animals = args.animals or (40 if args.page else 8)
    yard = Yard.named("larkmoor-untagged", seed=args.seed, animals=args.animals)
    if args.page:
        return _page(yard, args.folder)
    day = lay_out(yard, args.folder)
    screen = Screen()
    screen.keep(f"Larkmoor, crush.  {args.animals} simulated steers, seed {args.seed}; files in {args.folder}/\n")
    if not args.fast:
        screen.keep("As in the yards: the first animal is weighed in a quarter of a minute.  --fast does not wait.\n")
    screen.keep(HEADER)
    tally = _Shown(screen)
    if args.fast:
        _replay(yard, day, tally)
    else:
        try:
            asyncio.run(_live(yard, day, tally))
        except (ControlError, TimeoutError) as error:
            print(
                f"the demo broke off: {str(error) or 'the daemon did not keep up'}; its log is {day.log}",
                file=sys.stderr,
            )
            return 1
    tally.close(day)
    return 0


def _page(yard: Yard, folder: Path) -> int:
    """Let the page be looked at, until stopped."""
    from importlib.util import find_spec

    from neckyoke.bridge.commands import demo_page

    if any(find_spec(name) is None for name in ("starlette", "uvicorn")):
        print(demo_page.MISSING, file=sys.stderr)
        return 1
    port = demo_page.free_port()
    return demo_page.run(lay_out(yard, folder, page_port=port), yard, port)


class _Shown:
    """What has been shown so far: weighings by id, flags for the legend."""

    def __init__(self, screen: Screen) -> None:
        self.weighings: dict[str, Weighing] = {}
        self._screen, self._now = screen, Now()

    def event(self, event: Event) -> None:
        """Show an event."""
        if isinstance(event.data, Weighing):
            self.weighings[event.data.weighing] = event.data
        elif isinstance(event.data, Settled):
            self._now.take(event)
            self._screen.now(settled_line(event.data, advice(event.data)))
        if (text := line(event)) is not None:
            self._screen.keep(text)

    def live(self, view: PlatformView) -> None:
        """Show the animal on the platform now."""
        self._screen.now(self._now.line(view))

    def close(self, day: Day) -> None:
        """Count up."""
        from neckyoke.bridge.reports.show import as_text
        from neckyoke.bridge.reports.tally import tally

        flags: set[Flag] = {flag for weighing in self.weighings.values() for flag in weighing.flags}
        self._screen.keep("")
        for text in legend(flags):
            self._screen.keep(text)
        with day.events.open(encoding="utf-8") as lines:
            self._screen.keep(as_text(tally(lines)))
        self._screen.keep(f"Events, one a line: {day.events}\n")
        self._screen.keep(NEXT.format(program=_program(), events=day.events))


def _program() -> str:
    """Return how this program was called, so that what is told can be typed as it stands."""
    return sys.argv[0] if Path(sys.argv[0]).name == "neckyoke" else "neckyoke"


def _replay(yard: Yard, day: Day, shown: _Shown) -> None:
    from neckyoke.bridge.capture.read import read_capture
    from neckyoke.bridge.commands.replay import replay

    record(yard, day)
    with day.events.open("w", encoding="utf-8") as out:
        for event in replay(read_capture(day.capture), load_config(day.config)):
            out.write(event.to_json() + "\n")
            shown.event(event)


async def _live(yard: Yard, day: Day, shown: _Shown) -> None:
    with contextlib.ExitStack() as stack:
        ends = {name: stack.enter_context(PtyEnd(day.folder / name)) for name in ENDS}
        log = stack.enter_context(day.log.open("wb"))
        daemon = await asyncio.create_subprocess_exec(
            *(sys.executable, "-P", "-m", "neckyoke.bridge.cli"),  # -P: of what is installed, not of this folder
            *("run", "--config", str(day.config)),
            stdout=log,
            stderr=log,
        )
        try:
            async with asyncio.timeout(DEADLINE_S):
                while not day.socket.exists() and daemon.returncode is None:  # noqa: ASYNC110  # another process makes it
                    await asyncio.sleep(0.05)
            if daemon.returncode is not None:
                raise ControlError("the daemon ended at once")
            async with asyncio.TaskGroup() as together:  # one that fails, as on a closed pipe, ends the others
                together.create_task(_watch(day, shown))
                speaking = together.create_task(_speak(day))
                await play(yard.items(), ends)
                await speaking
                daemon.send_signal(signal.SIGTERM)
        except ExceptionGroup as failed:
            raise failed.exceptions[0] from None
        finally:
            if daemon.returncode is None:
                daemon.send_signal(signal.SIGTERM)
            async with asyncio.timeout(DEADLINE_S):
                await daemon.wait()


async def _speak(day: Day) -> None:
    """Make the requests of the person at the crush, each at its time."""
    began = time.monotonic()
    for t, request in day.said:
        await asyncio.sleep(max(0.0, began + t - time.monotonic()))
        await ask(day.socket, request)


async def _watch(day: Day, shown: _Shown) -> None:
    """Follow the daemon until it ends."""
    async for text in watch(day.socket):
        record = json.loads(text)
        if "live" in record:
            shown.live(PlatformView.model_validate(record["live"]))
        elif "specversion" in record:
            shown.event(read_event(text))
