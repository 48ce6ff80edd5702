"""Under a real systemd, in a container that is booted: installed, weighing, killed, hung, restarted, stopped.

    debootstrap --variant=minbase --include=systemd,systemd-sysv,dbus,python3,python3-venv bookworm ROOT
    python tests/bench/booted.py ROOT           (as root; systemd-nspawn is in Debian's systemd-container)

The wheel of this tree must be installed in ROOT under /opt/neckyoke (a venv of its python3, and the command in its
bin).  A simulated yard on TCP ports plays inside.  Said is what became of each promise of the unit, and its exposure
by `systemd-analyze security`.
"""

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

PROGRAM = "/opt/neckyoke/bin/neckyoke"
YARD = "/opt/neckyoke/bin/python3 -m neckyoke.simulators calm --tcp --animals 40"
CONFIG = """\
site = "larkmoor"
[links.indicator]
url = "{indicator}"
[links.panel]
url = "{panel}"
[stations.crush]
scale = "indicator"
readers = [{{ link = "panel", position = "platform" }}]
[outlets.events]
file = "events.jsonl"
[outlets.farm]
mqtt = "mqtt://127.0.0.1:1883"
username = "shed"
password_file = "broker.password"
"""


class Container:
    """The booted container."""

    def __init__(self, root: Path) -> None:
        self.root = root
        command = ["systemd-nspawn", "--quiet", "-D", str(root), "--register=no", "--keep-unit", "--console=pipe", "-b"]
        self._process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.STDOUT
        )
        self._leader = ""

    def boot(self) -> None:
        """Wait until its systemd says that it runs."""
        children = Path(f"/proc/{self._process.pid}/task/{self._process.pid}/children")
        wait("the container's first process", lambda: bool(children.read_text().split()), 30)
        self._leader = children.read_text().split()[0]
        wait("its systemd", lambda: self.run("systemctl is-system-running")[1].strip() in {"running", "degraded"}, 90)

    def run(self, command: str) -> tuple[int, str]:
        """Run a shell command inside; return its exit code and what it wrote."""
        inside = ["nsenter", "-t", self._leader, "-m", "-u", "-i", "-n", "-p", "--", "sh", "-c", command]
        path = {"PATH": os.environ["PATH"]}
        ran = subprocess.run(inside, check=False, capture_output=True, text=True, timeout=120, env=path)
        return ran.returncode, ran.stdout + ran.stderr

    def unit(self, name: str) -> str:
        """Return one property of the unit."""
        return self.run(f"systemctl show -P {name} neckyoke")[1].strip()

    def status(self) -> dict[str, Any]:
        """Ask the daemon how it is; nothing when it does not answer."""
        text = self.run(f"{PROGRAM} status --format json")[1]
        try:
            found: dict[str, Any] = json.loads(text[text.index("{") :])
        except ValueError:
            return {}
        return found

    def close(self) -> None:
        """Switch it off."""
        self.run("systemctl poweroff")
        try:
            self._process.wait(60)
        except subprocess.TimeoutExpired:
            self._process.kill()


def wait(what: str, condition: Callable[[], bool], within_s: float) -> float:
    """Wait for a condition; return how long it took."""
    began = time.monotonic()
    while not condition():
        if time.monotonic() - began > within_s:
            raise TimeoutError(f"not within {within_s:.0f} s: {what}")
        time.sleep(0.2)
    return time.monotonic() - began


def install(box: Container) -> None:
    """Configure, install the unit and start it; a yard plays beside it."""
    box.run("systemctl disable --now neckyoke")  # of an earlier trial
    box.run("rm -rf /var/lib/neckyoke /var/lib/private/neckyoke")
    box.run(f"systemd-run --unit=yard sh -c '{YARD} > /run/yard.txt 2>&1'")
    wait("the yard's ports", lambda: box.run("cat /run/yard.txt")[1].count("tcp://") >= 2, 30)
    urls = [word.strip("',\"") for word in box.run("cat /run/yard.txt")[1].split() if "tcp://" in word]
    folder = box.root / "etc/neckyoke"
    folder.mkdir(exist_ok=True)
    (folder / "neckyoke.toml").write_text(CONFIG.format(indicator=urls[0], panel=urls[1]))
    (folder / "broker.password").write_text("not for everybody\n")
    (folder / "broker.password").chmod(0o600)
    print("service install:", box.run(f"{PROGRAM} service install && systemctl daemon-reload")[0] == 0)


def judge(box: Container) -> None:
    """Go through the unit's promises."""
    code, said = box.run("systemctl enable --now neckyoke")
    print(f"started, and says ready: {code == 0 and box.unit('ActiveState') == 'active'} {said if code else ''}")
    took = wait("a weighing", lambda: box.status()["stations"]["crush"]["counts"]["animals"] > 0, 120)
    print(f"first weighing {took:.0f} s after the start")
    trouble = " ".join(box.status()["outlets"]["farm"]["trouble"].values())
    print(f"credential read: {bool(trouble) and 'password_file' not in trouble}; of the broker: {trouble}")
    group = box.unit("ControlGroup")
    limits = box.run(f"cat /sys/fs/cgroup/memory{group}/memory.limit_in_bytes /sys/fs/cgroup{group}/memory.max")[1]
    print(f"MemoryMax: {box.unit('MemoryMax')}; in the kernel: {[one for one in limits.split() if one.isdigit()]}")

    before = box.status()["stations"]["crush"]["counts"]["number"]
    box.run(f"kill -9 {box.unit('MainPID')}")
    took = wait("a restart after a kill", lambda: box.unit("NRestarts") == "1" and bool(box.status()), 60)
    after = box.status()["stations"]["crush"]["counts"]["number"]
    print(f"killed: answers again after {took:.1f} s; numbers go on: {before} -> {after}")
    box.run(f"kill -STOP {box.unit('MainPID')}")
    took = wait("a restart after a hang", lambda: box.unit("NRestarts") == "2" and bool(box.status()), 150)
    print(f"hung: the watchdog ended it, answers again after {took:.0f} s")
    box.run("systemctl stop neckyoke")
    print(f"stopped: {box.unit('Result')}, rc {box.unit('ExecMainStatus')}")
    score = box.run("systemd-analyze security --no-pager neckyoke")[1].strip().splitlines()
    print("\n".join(line for line in score if line.startswith("✗") or "exposure level" in line))


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("root", type=Path)
    box = Container(parser.parse_args().root)
    try:
        box.boot()
        install(box)
        judge(box)
    finally:
        box.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
