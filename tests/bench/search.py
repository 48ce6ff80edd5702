"""How soon a search answers on the phone: 10,000 animals in the herd book, 500 in a job, a slow box and a slow phone.

    python tests/bench/search.py [--animals 10000] [--mob 500] [--share 0.25] [--slow 4]

A job's list and a day's are one: the 500 are of today.  Each is typed letter by letter, and every letter is timed, on
the phone: from the key to the list drawn anew.  The real daemon is held to a share of one core (stopped and let go on
every 20 ms, as a tool for that does); Chromium is throttled (DevTools, Emulation.setCPUThrottlingRate).  Beside it, in
the same run: phone and box as they are.
"""

import argparse
import asyncio
import contextlib
import logging
import os
import signal
import socket
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import structlog

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.events import wrap
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.page import access
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import weighing
from tests.support.daemon import CONFIG, Daemon

CODE = "482913067"
TURN_S = 0.02
TIMED = """
const [field, list, text] = [document.querySelector(arguments[0]), document.querySelector(arguments[1]), arguments[2]];
return new Promise((done) => {
  const seen = new MutationObserver(() => {
    seen.disconnect();
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - began)));
  });
  seen.observe(list, { childList: true });
  const began = performance.now();
  field.value = text;
  field.dispatchEvent(new Event('input'));
});
"""
SCROLLED = """
return new Promise((done) => {
  const gaps = []; let last = performance.now(); let left = 60;
  const step = (now) => {
    gaps.push(now - last); last = now;
    scrollBy(0, 120);
    if (--left) requestAnimationFrame(step); else done(gaps.slice(2));
  };
  requestAnimationFrame(step);
});
"""


@contextlib.contextmanager
def held(pid: int, share: float) -> Iterator[None]:
    """Hold a process to a share of one core."""
    over = threading.Event()

    def hold() -> None:
        while not over.is_set():
            os.kill(pid, signal.SIGSTOP)
            time.sleep(TURN_S * (1 - share))
            os.kill(pid, signal.SIGCONT)
            time.sleep(TURN_S * share)

    thread = threading.Thread(target=hold)
    if share < 1:
        thread.start()
    try:
        yield
    finally:
        over.set()
        if share < 1:
            thread.join()
        os.kill(pid, signal.SIGCONT)


async def fill(folder: Path, animals: int, mob: int) -> None:
    """Make a journal with a herd and what was weighed today."""
    journal = await Journal.open(folder / "neckyoke.db")
    made = [
        Animal(
            animal=f"a{at}", visuals=(str(10_000 + at),), tags=(WornTag(id=f"999{at:012d}"),), sex="steer", mob="north"
        )
        for at in range(animals)
    ]
    for at in range(0, animals, 1000):
        await journal.append(
            [wrap(one, site="larkmoor", time=datetime.now(UTC), key=f"{one.animal}/1") for one in made[at : at + 1000]]
        )
    now = datetime.now(UTC)
    stays = [weighing(at, 300.0 + at % 90, on=now - timedelta(seconds=mob - at)) for at in range(1, mob + 1)]
    await journal.append([wrap(one, site="larkmoor", time=now, key=f"{one.weighing}/1") for one in stays])
    await journal.close()


def measure(browser: Browser, name: str, field: str, shown: str, typed: list[str]) -> None:
    """Time a search at every letter of each of these."""
    times = []
    for text in typed:
        for end in range(1, len(text) + 1):
            times.append(browser.run(TIMED, field, shown, text[:end]))
            time.sleep(0.2)  # nobody types faster for long, and the box bounds how often it is asked
    times.sort()
    within = sum(one <= 100.0 for one in times) / len(times)
    told = f"median {statistics.median(times):6.1f} ms   95 in 100 {times[int(0.95 * len(times))]:6.1f} ms   worst"
    print(f"  {name:22} {told} {times[-1]:6.1f} ms   within 100 ms {within:.0%} of {len(times)}", flush=True)


def main() -> None:
    """Print the times."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--animals", type=int, default=10_000)
    parser.add_argument("--mob", type=int, default=500)
    parser.add_argument("--share", type=float, default=0.25)
    parser.add_argument("--slow", type=float, default=4)
    args = parser.parse_args()
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.ERROR))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with socket.create_server(("127.0.0.1", 0)) as free:
            port = free.getsockname()[1]
        asyncio.run(fill(folder, args.animals, args.mob))
        access.keep(folder / "page.code", CODE)
        config = CONFIG.format(indicator="tcp://127.0.0.1:9", panel="tcp://127.0.0.1:9")
        config = f'timezone = "UTC"\n{config}[page]\nlisten = "127.0.0.1:{port}"\n'
        daemon = Daemon(folder, config).start()
        assert daemon.process is not None
        print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
        try:
            (folder / "browser").mkdir()
            with Browser(folder / "browser") as browser:
                for share, slow in ((1.0, 1.0), (args.share, args.slow)):
                    print(f"the box at {share:g} of a core, the phone {slow:g} times as slow")
                    browser.cdp("Emulation.setCPUThrottlingRate", rate=slow)
                    with held(daemon.process.pid, share):
                        _look(browser, f"http://127.0.0.1:{port}/", args.animals, args.mob)
        finally:
            daemon.close()


def _look(browser: Browser, url: str, animals: int, mob: int) -> None:
    browser.go("about:blank")
    browser.go(f"{url}#code={CODE}")
    browser.until("document.querySelector('#site').innerText === 'larkmoor'", within_s=60)
    browser.run("location.hash = '#animals'")
    browser.until("document.querySelectorAll('#herd li').length > 7", within_s=60)
    ears = [str(10_000 + at * animals // 20) for at in range(20)]
    measure(browser, "herd book, by ear", "#findherd", "#herd", ears)
    measure(
        browser, "herd book, end of tag", "#findherd", "#herd", [f"{at * animals // 20:06d}"[-5:] for at in range(20)]
    )
    browser.run("location.hash = '#job'")
    browser.until("document.querySelectorAll('#mob li').length > 7", within_s=60)
    measure(browser, "job's list, by number", "#findmob", "#mob", [str(1 + at * mob // 20) for at in range(20)])
    browser.run(TIMED, "#findmob", "#mob", "")
    browser.run("document.querySelector('#mob').scrollIntoView()")
    gaps = sorted(browser.run(SCROLLED))
    told = f"median {statistics.median(gaps):6.1f} ms   worst {gaps[-1]:6.1f} ms between pictures"
    print(f"  {'the list, scrolled':22} {told}")


if __name__ == "__main__":
    main()
