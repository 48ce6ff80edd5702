"""What the daemon costs, beside a bare loop of 40 lines doing the least that could be called the same.

    python tests/bench/footprint.py [--seconds 30]

    start     from the command to the first reading understood; likewise after a kill, the unit's RestartSec= included
    memory    resident, two links, an events file and a broker, after a mob has gone through
    idle      CPU with a scale streaming an empty platform at 10 Hz, and with nothing plugged in
    yard      CPU with four stations at 20 Hz each and animals on all of them
    card      bytes written by the process per idle day and per 1,000 animals (/proc/PID/io, without the log)

The bare loop reads the same ports with pyserial, takes the number out of each line and publishes it to the same broker
with paho when it has not moved for two seconds: no journal, no pairing, no capture.
"""

import argparse
import asyncio
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Self

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.asking.socket import ControlError, ask
from neckyoke.simulators.scenarios import LARKMOOR
from neckyoke.simulators.wires.ends import PtyEnd, play
from neckyoke.simulators.yard import Yard
from tests.support.broker import Broker

RESTART_S = 1.0
"""RestartSec= of the unit."""
ROOT = Path(__file__).parents[2]
BARE = r"""
import json, re, selectors, sys, time
import paho.mqtt.client as paho
import serial

broker_port, *paths = sys.argv[1:]
client = paho.Client(paho.CallbackAPIVersion.VERSION2)
client.connect("127.0.0.1", int(broker_port))
client.loop_start()
ports = selectors.DefaultSelector()
for path in paths:
    port = serial.Serial(path, 9600, timeout=0)
    ports.register(port, selectors.EVENT_READ, {"path": path, "rest": b"", "kg": None, "since": 0.0, "said": None})
first = True
number = re.compile(rb"[-+]? *\d+(\.\d+)?")
while True:
    for key, _ in ports.select():
        state = key.data
        *lines, state["rest"] = (state["rest"] + key.fileobj.read(4096)).split(b"\n")
        for line in lines:
            found = number.search(line)
            if found is None:
                continue
            kg = float(found.group().replace(b" ", b""))
            if first:
                print("first", flush=True)
                first = False
            now = time.monotonic()
            if state["kg"] is None or abs(kg - state["kg"]) > 2:
                state.update(kg=kg, since=now)
            elif now - state["since"] > 2 and kg > 25 and state["said"] != state["kg"]:
                state["said"] = state["kg"]
                client.publish("bare/weight", json.dumps({"kg": kg, "port": state["path"]}), qos=1)
"""

STATION = """\
[links.indicator{n}]
url = "serial:{folder}/indicator{n}?baud=9600"
[links.panel{n}]
url = "serial:{folder}/panel{n}?baud=9600"
[stations.crush{n}]
scale = "indicator{n}"
readers = [{{ link = "panel{n}", position = "platform" }}]
capacity_kg = 1500
"""
OUTLETS = """\
[outlets.events]
file = "events.jsonl"
[outlets.farm]
mqtt = "{broker}"
"""


@dataclass
class Process:
    """A running program and what the kernel says of it."""

    process: subprocess.Popen[bytes]
    began: float

    @classmethod
    def start(cls, *command: str, log: Path) -> Self:
        """Start it."""
        with log.open("ab") as out:
            began = time.monotonic()
            return cls(subprocess.Popen(command, cwd=ROOT, stdout=out, stderr=out), began)

    def cpu_s(self) -> float:
        """Return the processor time used, its threads included."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def rss_mib(self) -> float:
        """Return the resident memory."""
        text = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.findall(r"VmRSS:\s+(\d+)", text)[0]) / 1024

    def written(self) -> int:
        """Return the bytes it caused to be written to disk."""
        return int(
            re.findall(r"^write_bytes: (\d+)", Path(f"/proc/{self.process.pid}/io").read_text(), re.MULTILINE)[0]
        )

    def stop(self) -> None:
        """End it."""
        self.process.terminate()
        self.process.wait(30)


def empty(seconds: float, rate_hz: float) -> Iterator[tuple[float, str, bytes]]:
    """Return an empty platform's frames."""
    return ((i / rate_hz, "indicator", b"ST,GS,+00000.0kg\r\n") for i in range(int(seconds * rate_hz)))


class Both:
    """The same bytes on the daemon's wire and on the bare loop's."""

    def __init__(self, *ends: PtyEnd) -> None:
        self.ends, self.lost = ends, 0

    def write(self, data: bytes) -> None:
        """Send to both."""
        for end in self.ends:
            end.write(data)

    def unplug(self) -> None:
        """Unplug both."""
        for end in self.ends:
            end.unplug()

    def plug(self) -> None:
        """Plug both in."""
        for end in self.ends:
            end.plug()


class Yards:
    """Some stations' wires in a folder, and a broker."""

    def __init__(self, folder: Path, broker: Broker, stations: int) -> None:
        self.folder, self.broker = folder, broker
        self.numbers = range(1, stations + 1)
        names = [f"{device}{n}" for n in self.numbers for device in ("indicator", "panel")]
        self.ends = {name: PtyEnd(folder / name) for name in names}
        self.bare_ends = {name: PtyEnd(folder / f"bare-{name}") for name in names}
        self.both = {name: Both(self.ends[name], self.bare_ends[name]) for name in names}
        stations_text = "".join(STATION.format(n=n, folder=folder) for n in self.numbers)
        self.config = folder / "neckyoke.toml"
        self.config.write_text('site = "larkmoor"\n' + stations_text + OUTLETS.format(broker=broker.url))

    def daemon(self) -> Process:
        """Start the daemon."""
        command = (sys.executable, "-m", "neckyoke.bridge.cli", "run", "--config", str(self.config))
        return Process.start(*command, log=self.folder / "daemon.log")

    def bare(self) -> Process:
        """Start the bare loop."""
        log = self.folder / "bare.log"
        log.unlink(missing_ok=True)
        paths = [str(end.path) for end in self.bare_ends.values()]
        return Process.start(sys.executable, "-c", BARE, str(self.broker.port), *paths, log=log)

    async def play(self, seconds: float, rate_hz: float, *, animals: bool = True) -> int:
        """Play a yard on every station for so long; return how many animals that were."""
        scenario = replace(LARKMOOR, indicator=replace(LARKMOOR.indicator, rate_hz=rate_hz))
        mobs = [Yard(scenario, seed=n, animals=int(seconds / 6) + 2) for n in self.numbers]
        frames = [
            (t, f"{link}{n}", data)
            for n, yard in zip(self.numbers, mobs, strict=True)
            for t, link, data in (yard.items() if animals else empty(seconds, rate_hz))
            if t < seconds
        ]
        await play(sorted(frames), self.both)
        return sum(stay.off_t < seconds for yard in mobs for stay in yard.truth)

    async def first_reading(self, process: Process, understood: Callable[[], Awaitable[bool]]) -> float:
        """Stream until the program has understood something; return how long after its start that was."""
        while not await understood():
            for name, end in self.both.items():
                if name.startswith("indicator"):
                    end.write(b"ST,GS,+00000.0kg\r\n")
            await asyncio.sleep(0.01)
            if process.process.poll() is not None:
                raise RuntimeError((self.folder / "daemon.log").read_text())
        return time.monotonic() - process.began

    async def daemon_understood(self) -> bool:
        """Return whether the daemon has read a frame."""
        try:
            answer = await ask(self.folder / "neckyoke.sock", {"kind": "status"})
        except ControlError:
            return False
        return any(link["frames"] for link in answer["status"]["links"].values())

    async def bare_understood(self) -> bool:
        """Return whether the bare loop has."""
        return "first" in (self.folder / "bare.log").read_text()

    def close(self) -> None:
        """Take the wires away."""
        for end in self.both.values():
            end.unplug()


async def one_station(yards: Yards, seconds: float) -> None:
    """Measure start, memory, idling and the card with one station on two links."""
    starts: dict[str, list[float]] = {"daemon": [], "bare": []}
    spent: dict[str, list[float]] = {"daemon": [], "bare": []}
    for _ in range(5):
        for name, start, understood in (
            ("daemon", yards.daemon, yards.daemon_understood),
            ("bare", yards.bare, yards.bare_understood),
        ):
            process = start()
            starts[name].append(await yards.first_reading(process, understood))
            spent[name].append(process.cpu_s())
            process.stop()
    say("start to first reading, s", *(statistics.median(starts[name]) for name in ("daemon", "bare")))
    say("  of that, processor time, s", *(statistics.median(spent[name]) for name in ("daemon", "bare")))

    process = yards.daemon()
    await yards.first_reading(process, yards.daemon_understood)
    process.process.kill()
    process.process.wait()
    killed = time.monotonic()
    (yards.folder / "neckyoke.sock").unlink()
    await asyncio.sleep(RESTART_S)
    process = yards.daemon()
    await yards.first_reading(process, yards.daemon_understood)
    say("killed to first reading again, s", time.monotonic() - killed)
    process.stop()

    daemon, bare = yards.daemon(), yards.bare()
    await yards.first_reading(daemon, yards.daemon_understood)
    await yards.play(3.0, 10.0, animals=False)
    await compare("idle, streaming 10 Hz, % of a core", yards.play(seconds, 10.0, animals=False), seconds, daemon, bare)
    written = daemon.written()
    animals = await yards.play(seconds * 2, 10.0)
    await asyncio.sleep(3)
    say("resident, MiB", daemon.rss_mib(), bare.rss_mib())
    per_animal = (daemon.written() - written) / max(1, animals)
    say("written per 1,000 animals, MB", per_animal / 1e3)
    for end in yards.both.values():
        end.unplug()
    await asyncio.sleep(15)  # both losses are told by then
    written, bare_gone = daemon.written(), bare.process.poll() is not None
    used = daemon.cpu_s()
    await asyncio.sleep(seconds)
    say("nothing plugged in, % of a core", (daemon.cpu_s() - used) / seconds * 100)
    say("written per idle day, MB", (daemon.written() - written) / seconds * 86400 / 1e6)
    print("(the bare loop " + ("ended when its ports were pulled)" if bare_gone else "is still there)"))
    daemon.stop()
    bare.process.kill()
    bare.process.wait()


async def four_stations(yards: Yards, seconds: float) -> None:
    """Measure four stations at work."""
    daemon, bare = yards.daemon(), yards.bare()
    await yards.first_reading(daemon, yards.daemon_understood)
    await compare("4 stations at 20 Hz, % of a core", yards.play(seconds * 2, 20.0), seconds * 2, daemon, bare)
    say("resident, MiB", daemon.rss_mib(), bare.rss_mib())
    daemon.stop()
    bare.process.kill()
    bare.process.wait()


async def compare(what: str, work: Awaitable[object], seconds: float, *processes: Process) -> None:
    """Say the processor time of both over the same work."""
    before = [process.cpu_s() for process in processes]
    await work
    spent = [process.cpu_s() - at for process, at in zip(processes, before, strict=True)]
    say(what, *(one / seconds * 100 for one in spent))


def say(what: str, daemon: float, bare: float | None = None) -> None:
    """Print one line of the table."""
    beside = "" if bare is None else f" {bare:8.2f} {daemon / bare if bare else float('inf'):7.1f}"
    print(f"{what:40} {daemon:8.2f}{beside}", flush=True)


def main() -> None:
    """Measure everything."""
    parser = argparse.ArgumentParser(description="What the daemon costs.")
    parser.add_argument("--seconds", type=float, default=30.0, help="length of a measurement (30)")
    args = parser.parse_args()
    print(f"{'':40} {'daemon':>8} {'bare':>8} {'ratio':>7}")
    for stations, measure in ((1, one_station), (4, four_stations)):
        with tempfile.TemporaryDirectory() as made:
            folder = Path(made)
            broker = Broker(folder).start()
            yards = Yards(folder, broker, stations)
            try:
                asyncio.run(measure(yards, args.seconds))
            finally:
                yards.close()
                broker.close()


if __name__ == "__main__":
    main()
