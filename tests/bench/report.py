"""How long the report of a job takes, and how large it is: `python tests/bench/report.py [ANIMALS]`.

The target is a job of 2,000 animals, each with a last weight, in under 3 s and 1.5 MB; beside it stand the tally alone
and a bare start of the command.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.bench.tally import write


def measured(*words: str) -> tuple[float, float]:
    """Run a command; return seconds of the processor and seconds that passed."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([sys.executable, "-m", "neckyoke.bridge.cli", *words], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, time.perf_counter() - began


def main() -> None:
    """Measure and print."""
    animals = int(sys.argv[1]) if len(sys.argv) == 2 else 2000
    with tempfile.TemporaryDirectory() as folder:
        events, page = Path(folder) / "events.jsonl", Path(folder) / "report.html"
        write(events, animals)
        ways = {
            "start": ("--version",),
            "tally": ("tally", str(events), "--all"),
            "report": ("tally", str(events), "--all", "--html", str(page)),
        }
        for name, words in ways.items():
            busy_s, passed_s = min(measured(*words) for _ in range(3))
            print(f"{name:7} {busy_s:.2f} s of the processor, {passed_s:.2f} s passed")
        print(f"{animals} animals: {page.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
