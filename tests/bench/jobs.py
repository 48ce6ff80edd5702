"""Kill -9 at random moments of a day with two jobs and a pause: sheet, job, count and pause are as they were.

    python tests/bench/jobs.py [kills] [seed]

The child is the daemon as it is built, with its journal on disk, fed a simulated yard on a clock of its own; it says
what it is about to be fed, and how its job stands each time that this is safe.  After each kill it must stand as it
stood last; at the end every dose of a stay that no kill cut short is that of an undisturbed day.
"""

import asyncio
import json
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.events import Flag, Weighing, read_event
from neckyoke.bridge.journal.reading import read_only
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG

ANIMALS = 24
YARD = Yard.named("calm", seed=3, animals=ANIMALS)
DOSED = 'title = "{}"\n[[treatments]]\nname = "drench"\nml_per_kg = 0.{}\nwithhold_days = 28\n'
WORDS: dict[int, dict[str, Any]] = {
    0: {"kind": "begin", "text": DOSED.format("Steers", 1)},
    8: {"kind": "pause"},
    10: {"kind": "resume"},
    12: {"kind": "begin", "text": DOSED.format("Lambs", 2)},
    18: {"kind": "sheet", "text": DOSED.format("Lambs", 3)},
}
"""What is said before an animal steps on, by its place in the yard."""
CUT = {Flag.INTERRUPTED, Flag.ON_AT_START}


def items() -> list[tuple[float, str, Any]]:
    """Return what is fed, in order of time: bytes by link, and words."""
    said = [(YARD.truth[at].on_t - 0.4, "say", {**word, "id": f"word-{at}"}) for at, word in WORDS.items()]
    return sorted([*YARD.items(), *said], key=lambda item: item[0])


async def child(folder: Path, first: int) -> None:
    """Be the daemon from an item on."""
    fed = items()
    moment = [fed[first][0] if first else 0.0]
    clock = WallClock(lambda: 1e6 + moment[0], lambda: 1.8e9 + moment[0], lambda: True)
    service = await build(load_config(folder / "neckyoke.toml"), clock)
    pipeline, jobs = service.pipeline, service.pipeline.site.jobs["crush"].jobs

    async def tell() -> None:
        await pipeline.journal.append()
        job = jobs.open
        stands = pipeline.site.stations["crush"].view.number is not None and job is not None and job.standing == "open"
        state = [job.id, job.standing, job.sheet and job.sheet.digest, jobs.count(job) - stands] if job else None
        print(f"> {json.dumps(state)}", flush=True)

    await tell()
    for at in range(first, len(fed)):
        moment[0], link, what = fed[at]
        print(f"> {at}", flush=True)
        if link == "say":
            answer = await service.desk.ask(what)
            assert answer["done"], answer
            await tell()
        else:
            pipeline.took(link, what)
            if at % 40 == 0:
                await tell()
    moment[0] += 700.0
    pipeline.advance()
    pipeline.finish()
    await pipeline.keep_memory(5.0)
    await pipeline.journal.close()


def live(folder: Path, first: int, kill_after_s: float | None) -> tuple[int, list[Any]]:
    """Let the child live, and kill it; return the next item, and how it said that its job stood.

    All that it said before it died is heard: it may be far ahead of us, and fed again from where we last looked it
    would see time run backwards.  What was about to be fed when it died comes again where it would in a yard: a reader
    reads on, and a person who had no answer asks again, by the same id.
    """
    fed = items()
    process = subprocess.Popen(
        [sys.executable, __file__, "child", str(folder), str(first)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    states, begun = [], 0.0
    with process:
        for line in process.stdout:
            if not line.endswith("\n"):
                break
            if not line.startswith("> "):
                continue
            said = json.loads(line[2:])
            if isinstance(said, int):
                first = said + (fed[said][1] == "indicator")
                begun = begun or time.monotonic()
                if kill_after_s is not None and time.monotonic() - begun >= kill_after_s:
                    process.kill()
            else:
                states.append(said)
        process.wait()
    assert process.returncode in {0, -9}
    return (first if process.returncode else len(fed)), states


def doses(folder: Path) -> dict[str, tuple[bool, list[Any]]]:
    """Return what each animal was given, by its tag, and whether a kill cut its stay short."""
    found: dict[str, tuple[bool, list[Any]]] = {}
    with read_only(folder / "neckyoke.db") as journal:
        for body in journal.latest():
            data = read_event(body).data
            assert isinstance(data, Weighing)
            if data.tag is not None:
                given = [(one.name, one.amount, one.withheld_until) for one in data.treatments]
                cut = bool(CUT & {*data.flags}) or found.get(data.tag.id, (False,))[0]
                found[data.tag.id] = cut, [data.sheet, data.job_number is None, *given]
    return found


def prepared(folder: Path) -> Path:
    """Make a folder with a configuration."""
    text = CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002")
    (folder / "neckyoke.toml").write_text(text.replace('site = "larkmoor"', 'site = "larkmoor"\ntimezone = "UTC"'))
    return folder


def main() -> None:
    """Kill, and compare."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    chance = random.Random(seed)
    done = compared = cut = 0
    while done < kills:
        with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as other:
            plain, killed = prepared(Path(one)), prepared(Path(other))
            began = time.monotonic()
            live(plain, 0, None)
            whole_s = time.monotonic() - began
            at, before = 0, None
            while at < len(items()):
                at, states = live(killed, at, chance.random() * whole_s / 8 if done < kills else None)
                done += at < len(items())
                if before is not None:
                    assert states, "it came back"
                    assert states[0][:3] == before[:3], (states[0], before)
                    assert states[0][3] >= before[3], "nobody who has been counted is not counted any more"
                before = states[-1] if states else before
            expected, found = doses(plain), doses(killed)
            assert found.keys() == expected.keys(), f"lost: {expected.keys() - found.keys()} in {other}, seed {seed}"
            for tag, (was_cut, given) in found.items():
                compared += 1
                cut += was_cut
                assert was_cut or given == expected[tag][1], (tag, given, expected[tag])
    print(
        f"{done} kills: job, sheet, pause and count as before each time; {compared} animals compared, {cut} cut short"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["child"]:
        asyncio.run(child(Path(sys.argv[2]), int(sys.argv[3])))
    else:
        main()
