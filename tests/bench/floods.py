"""All floods at once, inside the unit's own limits, while another station weighs.

    python tests/bench/floods.py [--minutes 3] [--animals 6] [--only tags notes]

One daemon, two stations.  The `crush` weighs a simulated mob in real time.  Meanwhile, all at once:

    garbage     random bytes at the other station's scale, as fast as its wire takes them
    tags        never the same tag twice at the other station's reader, at 170 kB a second
    notes       long notes on one animal over the socket, the next as soon as the last is answered
    phones      silent TCP connections to the page, four hundred at a time, again and again
    requests    garbage on the broker's request topic

Said is whether the crush's weighings are all there with the right tags and weights, how late the event loop ran (asked
ten times a second), and the most memory and descriptors and what was written, beside the limits of the unit.
"""

import argparse
import asyncio
import contextlib
import os
import random
import resource
import shutil
import socket
import statistics
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import aiomqtt

from neckyoke.bridge.asking.socket import ControlError, ask, ask_status
from neckyoke.bridge.page import access
from neckyoke.simulators.wires.ends import PtyEnd, play
from neckyoke.simulators.yard import Yard
from tests.support.broker import Broker, free_port
from tests.support.daemon import Daemon

MEMORY_MIB, TASKS, DESCRIPTORS = 256, 64, 1024
"""MemoryMax= and TasksMax= of the unit, and systemd's own limit of descriptors."""
GROUPS = Path("/sys/fs/cgroup")
LAG_S = 0.1
WITHIN_KG = 4.0
CONFIG = """\
site = "larkmoor"
{links}
[stations.crush]
scale = "indicator"
readers = [{{ link = "panel", position = "platform" }}]
[stations.race]
scale = "noise"
readers = [{{ link = "babble", position = "platform" }}]
[outlets.events]
file = "events.jsonl"
[outlets.farm]
mqtt = "{broker}"
[page]
listen = "127.0.0.1:{page}"
[capture]
folder = "captures"
"""


class Limits:
    """The unit's limits, put on a process by its number: `said` tells which of them this machine let us enforce.

    Memory and tasks are a control group's, as the unit's are: of version 1 here, where it is mounted and ours to write.
    """

    def __init__(self, pid: int) -> None:
        resource.prlimit(pid, resource.RLIMIT_NOFILE, (DESCRIPTORS, DESCRIPTORS))
        self.said = [f"{DESCRIPTORS} descriptors (prlimit)"]
        self._groups = {name: GROUPS / name / f"neckyoke-floods-{pid}" for name in ("memory", "pids")}
        values = {"memory": ("memory.limit_in_bytes", MEMORY_MIB << 20), "pids": ("pids.max", TASKS)}
        for name, (key, most) in values.items():
            try:
                self._groups[name].mkdir()
                (self._groups[name] / key).write_text(str(most))
                (self._groups[name] / "cgroup.procs").write_text(str(pid))
            except OSError as error:
                self.said.append(f"{name} NOT enforced: {error.strerror}")
            else:
                self.said.append(f"{key} {most}")

    def read(self, name: str, key: str) -> int | None:
        """Return what the kernel counted; None where it does not."""
        try:
            return int((self._groups[name] / key).read_text())
        except (OSError, ValueError):
            return None

    def close(self) -> None:
        """Take the groups away; their process has ended."""
        for group in self._groups.values():
            with contextlib.suppress(OSError):
                group.rmdir()


@dataclass
class Seen:
    """What was seen of the daemon during the floods."""

    limits: Limits
    lags_s: list[float] = field(default_factory=list)
    memory_mib: float = 0.0
    descriptors: int = 0
    sent: dict[str, int] = field(default_factory=dict)

    def count(self, flood: str, by: int = 1) -> None:
        """Count what was sent."""
        self.sent[flood] = self.sent.get(flood, 0) + by


async def garbage(end: PtyEnd, seen: Seen) -> None:
    """Send noise as fast as it is taken."""
    chance = random.Random(1)
    noise = [chance.randbytes(4096) for _ in range(64)]
    while True:
        end.write(chance.choice(noise))
        seen.count("garbage bytes", 4096)
        await asyncio.sleep(0.002)


async def tags(end: PtyEnd, seen: Seen) -> None:
    """Send tags of which no two are alike."""
    number = 0
    while True:
        lines = b"".join(b"999%012d\r\n" % (number + more) for more in range(200))
        number += 200
        end.write(lines)
        seen.count("tags", 200)
        await asyncio.sleep(len(lines) / 170_000)


async def notes(path: Path, seen: Seen) -> None:
    """Note again and again on one animal."""
    while True:
        with contextlib.suppress(ControlError):
            await ask(path, {"kind": "note", "station": "crush", "number": 1, "text": "x" * 500})
            seen.count("notes")
        await asyncio.sleep(0)


async def phones(port: int, seen: Seen) -> None:
    """Open connections and say nothing."""
    held: list[socket.socket] = []
    while True:
        for _ in range(400):
            one = socket.socket()
            one.settimeout(0)
            one.connect_ex(("127.0.0.1", port))
            held.append(one)
            seen.count("connections")
            await asyncio.sleep(0.002)
        await asyncio.sleep(5.0)
        while held:
            held.pop().close()


async def requests(broker: Broker, seen: Seen) -> None:
    """Publish what is no request, where requests are taken."""
    async with aiomqtt.Client("127.0.0.1", broker.port) as client:
        while True:
            await client.publish("neckyoke/larkmoor/race/request", os.urandom(2000))
            seen.count("requests")
            await asyncio.sleep(0.005)


async def watch(daemon: Daemon, seen: Seen) -> None:
    """Ask ten times a second how late it is; look at its memory and descriptors."""
    assert daemon.process is not None
    proc = Path(f"/proc/{daemon.process.pid}")
    while True:
        with contextlib.suppress(ControlError, OSError):
            status = await ask_status(daemon.socket)
            seen.lags_s.append(status.loop_lag_s)
            pages = int((proc / "statm").read_text().split()[1])
            seen.memory_mib = max(seen.memory_mib, pages * os.sysconf("SC_PAGE_SIZE") / 2**20)
            seen.descriptors = max(seen.descriptors, len(list((proc / "fd").iterdir())))
        await asyncio.sleep(0.1)


async def run(folder: Path, broker: Broker, minutes: float, animals: int, only: list[str]) -> bool:
    """Flood the daemon while the crush weighs, and judge."""
    yard, port = Yard.named("calm", seed=3, animals=animals), free_port()
    names = ("indicator", "panel", "noise", "babble")
    links = "\n".join(f'[links.{name}]\nurl = "serial:{folder / name}?baud=9600"' for name in names)
    with contextlib.ExitStack() as stack:
        ends = {name: stack.enter_context(PtyEnd(folder / name)) for name in names}
        daemon = Daemon(folder, CONFIG.format(links=links, broker=broker.url, page=port))
        access.keep(folder / "page.code", "482913067")
        stack.callback(daemon.close)
        await asyncio.to_thread(daemon.start)
        assert daemon.process is not None
        seen = Seen(limits=Limits(daemon.process.pid))
        stack.callback(seen.limits.close)
        floods: dict[str, Callable[[], Awaitable[None]]] = {
            "garbage": lambda: garbage(ends["noise"], seen),
            "tags": lambda: tags(ends["babble"], seen),
            "notes": lambda: notes(daemon.socket, seen),
            "phones": lambda: phones(port, seen),
            "requests": lambda: requests(broker, seen),
            "watch": lambda: watch(daemon, seen),
        }
        await asyncio.sleep(2.0)
        chosen = {*(only or floods), "watch"}
        tasks = [asyncio.ensure_future(flood()) for name, flood in floods.items() if name in chosen]
        began, rounds = time.monotonic(), 0
        while rounds == 0 or time.monotonic() - began < minutes * 60:
            await play(yard.items(), {name: ends[name] for name in ("indicator", "panel")})
            rounds += 1
        flooded_s = time.monotonic() - began
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        code = await asyncio.to_thread(daemon.stop)
        return judge(daemon, yard, rounds, seen, flooded_s, code)


def judge(daemon: Daemon, yard: Yard, rounds: int, seen: Seen, flooded_s: float, code: int) -> bool:
    """Compare the crush's weighings with the truth; say what it cost."""
    found = sorted(
        (one for one in daemon.weighings().values() if one["station"] == "crush"), key=lambda one: str(one["on"])
    )
    truth = [stay for _ in range(rounds) for stay in yard.truth]
    wrong = [
        f"{one['number']}: {one['tag'] and one['tag']['id']} {one['weight']['kg']} kg, truly {stay.tag} {stay.kg} kg"
        for one, stay in zip(found, truth, strict=False)
        if (one["tag"] or {}).get("id") != stay.tag or abs((one["weight"]["kg"] or 0) - stay.kg) > WITHIN_KG
    ]
    lags = sorted(seen.lags_s) or [float("inf")]
    p99 = lags[min(len(lags) - 1, int(len(lags) * 0.99))]
    state = sum(path.stat().st_size for path in daemon.folder.rglob("*") if path.is_file()) / 1e6
    journal = sum(path.stat().st_size for path in daemon.folder.glob("*.db*")) / 1e6
    log = daemon.log.stat().st_size / 1e6
    print(f"{flooded_s:.0f} s of floods: {', '.join(f'{count} {name}' for name, count in seen.sent.items())}")
    print(f"weighings of the crush: {len(found)} of {len(truth)}, {len(wrong)} wrong; rc {code}")
    for line in wrong[:10]:
        print(f"    {line}")
    median, most = statistics.median(lags), lags[-1]
    spelled = ", ".join(
        f"{name} {lag * 1000:.0f} ms" for name, lag in {"median": median, "p99": p99, "most": most}.items()
    )
    print(f"loop lag of {len(lags)} ticks: {spelled}")
    kinds = Counter(event["type"] for event in daemon.events())
    print(f"events: {', '.join(f'{count} {kind}' for kind, count in kinds.most_common())}")
    print(f"enforced: {', '.join(seen.limits.said)}")
    print(f"memory: {seen.memory_mib:.0f} of {MEMORY_MIB} MiB; descriptors: {seen.descriptors} of {DESCRIPTORS}")
    peak, met = (seen.limits.read("memory", f"memory.{key}") for key in ("max_usage_in_bytes", "failcnt"))
    if peak is not None:
        print(f"memory with what the kernel keeps of its files: at most {peak / 2**20:.0f} MiB; limit met {met} times")
    print(f"written: journal {journal:.1f} MB, log {log:.2f} MB, all {state:.1f} MB")
    good = len(found) == len(truth) and not wrong and p99 < LAG_S and seen.memory_mib < MEMORY_MIB and code == 0
    print("good" if good else "NOT GOOD")
    return good


def _no_files(folder: str, names: list[str]) -> list[str]:
    """List what cannot be copied: sockets and the ends of lines."""
    paths = [Path(folder, name) for name in names]
    return [path.name for path in paths if not path.is_file() and not path.is_dir()]


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=3.0)
    parser.add_argument("--animals", type=int, default=6)
    parser.add_argument("--only", nargs="*", default=[], help="these floods and no others")
    parser.add_argument("--keep", type=Path, help="copy the box's folder here at the end")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="neckyoke-floods-") as folder:
        (Path(folder) / "broker").mkdir()
        broker = Broker(Path(folder) / "broker").start()
        try:
            return 0 if asyncio.run(run(Path(folder), broker, args.minutes, args.animals, args.only)) else 1
        finally:
            broker.close()
            if args.keep is not None:
                shutil.copytree(
                    folder, args.keep, ignore=lambda at, names: [n for n in names if not (Path(at) / n).is_file()]
                )


if __name__ == "__main__":
    sys.exit(main())
