"""`python -m neckyoke.simulators`: a yard to try the daemon against, on ptys or TCP ports; or its capture, in a moment.

python -m neckyoke.simulators typical --animals 20                 plays on ptys in the working folder
python -m neckyoke.simulators typical --tcp                        plays on TCP ports
python -m neckyoke.simulators typical --capture day.jsonl.gz       writes what the devices would have sent
"""

import argparse
import asyncio
import contextlib
from pathlib import Path

from neckyoke.simulators.scenarios import SCENARIOS
from neckyoke.simulators.wires.ends import End, PtyEnd, TcpEnd, play
from neckyoke.simulators.yard import Yard


def main(arguments: list[str] | None = None) -> None:
    """Play a yard, or write it down."""
    parser = argparse.ArgumentParser(prog="python -m neckyoke.simulators", description="A simulated yard.")
    parser.add_argument("scenario", nargs="?", default="larkmoor", choices=sorted(SCENARIOS), metavar="SCENARIO")
    parser.add_argument("--seed", type=int, default=1, help="another seed, another day (1)")
    parser.add_argument("--animals", type=int, default=20, metavar="N", help="how many animals (20)")
    parser.add_argument("--speed", type=float, default=1.0, help="times as fast as real time (1)")
    parser.add_argument("--folder", type=Path, default=Path(), help="where the ptys' links go (the working folder)")
    parser.add_argument("--tcp", action="store_true", help="TCP ports in place of ptys")
    parser.add_argument("--capture", type=Path, metavar="FILE", help="write a capture and play nothing")
    parser.epilog = "Scenarios: " + ", ".join(sorted(SCENARIOS))
    args = parser.parse_args(arguments)
    yard = Yard.named(args.scenario, args.seed, args.animals)
    if args.capture:
        yard.write_capture(args.capture)
        print(f"{len(yard.truth)} stays, {yard.end_t:.0f} s, in {args.capture}")
        return
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_play(yard, args.folder.absolute(), args.speed, tcp=args.tcp))


async def _play(yard: Yard, folder: Path, speed: float, *, tcp: bool) -> None:
    links = [yard.scenario.scale, *(hearing.link for hearing in yard.scenario.readers)]
    async with contextlib.AsyncExitStack() as stack:
        ends: dict[str, End] = {}
        for link in links:
            if tcp:
                port = await stack.enter_async_context(await TcpEnd.open())
                ends[link], url = port, port.url
            else:
                wire = stack.enter_context(PtyEnd(folder / link))
                ends[link], url = wire, f"serial:{wire.path}"
            print(f'{link:10} url = "{url}"', flush=True)
        print(f"{len(yard.truth)} stays, {yard.end_t / speed:.0f} s", flush=True)
        await play(yard.items(), ends, speed)


if __name__ == "__main__":
    main()
