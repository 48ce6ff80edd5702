"""How long and how much memory the tally of many weighings takes, beside merely parsing the same lines.

    python tests/bench/tally.py [WEIGHINGS]

The target is 100,000 weighings in under 2 s, by parsing no more than the tally needs.
"""

import json
import random
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.reports.reading import EventsFile
from neckyoke.bridge.reports.tally import tally


def write(path: Path, count: int) -> None:
    """Write events as the daemon does: one weighing in twenty amended, and a settled event before each."""
    chance = random.Random(7)
    begun = {"job": "job-0", "turn": 1, "state": "open", "station": "crush", "timezone": "Australia/Brisbane"}
    with path.open("w") as out:
        job = {"specversion": "1.0", "id": "job", "source": "/larkmoor/crush", "type": "neckyoke.job", "data": begun}
        out.write(json.dumps(job, separators=(",", ":")) + "\n")
        for number in range(count):
            kg = round(chance.gauss(320, 25), 1)
            tag = f"999{number % 90000:012d}"
            when = f"2026-11-{1 + number // 5000:02d}T{number // 250 % 20:02d}:{number // 5 % 50:02d}:00.000Z"
            data = {
                "weighing": f"6f1d2c52-5d0b-5b1e-9c1c-{number:012x}",
                "revision": 1,
                "station": "crush",
                "number": number,
                "tag": {"id": tag, "code": "999", "national": tag[3:], "animal": True, "reads": 12, "link": "panel"},
                "weight": {
                    "kg": kg,
                    "grade": chance.choice(["good"] * 8 + ["fair", "poor"]),
                    "first_kg": kg,
                    "spread_kg": 1.1,
                    "zero_kg": 0.5,
                    "zero_moved_kg": 0.0,
                    "readings": 84,
                    "span_s": 8.4,
                    "restlessness_percent": 0.8,
                },
                "on": when,
                "settled": when,
                "off": when,
                "clock": "synchronised",
                "flags": ["no-tag"] if number % 50 == 0 else [],
                "sheet": f"Draft {number // 500}",
                "job": f"job-{number // 500}",
                "job_number": number % 500 + 1,
                "animal": {
                    "id": f"0d1d2c52-5d0b-5b1e-9c1c-{number % 90000:012x}",
                    "visual": str(number % 90000),
                    "tag": tag,
                    "born": "2026-01-02",
                    "sex": "steer",
                },
                "details": {"sex": "steer", "breed": "dairy cross", "origin": "east block"},
                "treatments": [
                    {
                        "name": "oral drench",
                        "amount": 35.0,
                        "exact": 31.9,
                        "unit": "mL",
                        "dose_ml": 35.0,
                        "exact_ml": 31.9,
                        "withheld_until": "2026-12-23",
                        "export_from": "2027-01-06",
                        "skipped": False,
                        "batch": None,
                        "remark": None,
                    }
                ],
                "gain": {"kg": 60.5, "days": 60, "since": "2026-09-25", "kg_per_day": 1.008, "remark": None},
                "pen": chance.choice(["heavy", "middle", "light"]),
                "notes": [],
                "skipped": [],
                "findings": [{"name": "condition", "value": 3, "by": "usual", "at": None, "keep": False}],
                "doses_said": [],
                "withheld": [],
                "pen_should": None,
                "final": True,
                "final_at": None,
                "marks": [],
                "why": None,
            }
            for revision in (1, 2) if number % 20 == 0 else (1,):
                data["revision"] = revision
                event = {
                    "specversion": "1.0",
                    "id": f"{number}-{revision}",
                    "source": "/larkmoor/crush",
                    "type": "neckyoke.weighing",
                    "subject": tag,
                    "time": when,
                    "datacontenttype": "application/json",
                    "dataschema": "urn:neckyoke:weighing:1",
                    "sequence": f"{number:010d}",
                    "data": data,
                }
                out.write(json.dumps(event, separators=(",", ":")) + "\n")


def parse_only(path: Path) -> int:
    """The baseline: every line through the JSON parser and dropped."""
    with path.open("rb") as lines:
        return sum(1 for line in lines if json.loads(line))


def count_up(path: Path) -> int | None:
    """What is measured."""
    return tally(EventsFile(path).lines()).counts["animals"]


def command(path: Path) -> None:
    """Measure the whole command, its start and the words included."""
    told = [sys.executable, "-m", "neckyoke.bridge.cli", "tally", str(path), "--all"]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(told, check=True, capture_output=True, cwd=Path(__file__).parents[2])
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    took_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"command: {took_s:.2f} s of the processor")


def main() -> None:
    """Measure each in a process of its own, so that neither's memory is the other's."""
    if len(sys.argv) == 3:
        work = {"parse": parse_only, "tally": count_up}[sys.argv[1]]
        before, busy = time.perf_counter(), time.process_time()
        found = work(Path(sys.argv[2]))
        took_s = time.process_time() - busy
        waited_s = time.perf_counter() - before - took_s
        print(json.dumps([found, took_s, waited_s, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024]))
        return
    count = int(sys.argv[1]) if len(sys.argv) == 2 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "events.jsonl"
        write(path, count)
        print(f"{count} weighings, {path.stat().st_size / 2**20:.0f} MiB")
        times = {}
        for name in ("parse", "tally"):
            told = subprocess.run([sys.executable, __file__, name, str(path)], check=True, capture_output=True)
            found, times[name], waited_s, peak_mib = json.loads(told.stdout)
            print(f"{name}: {found} found in {times[name]:.2f} s of the processor, peak {peak_mib:.0f} MiB")
            print(f"        (waited {waited_s:.2f} s beside)")
        command(path)
        print(f"ratio {times['tally'] / times['parse']:.2f}")


if __name__ == "__main__":
    main()
