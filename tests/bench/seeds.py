"""Do the laws hold whatever hypothesis draws?  All tests of tests/laws, once with each of many seeds.

    python tests/bench/seeds.py [--seeds 100] [--first 0] [--jobs 1] [TEST ...]

What lands is tested with draws that are always the same (tests/conftest.py), so that a red run means a change and not
luck.  This bench draws anew.  A law that fails with some seed is mended, in the code or in the law, and what failed is
kept beside it as an `@example`.  Exit code 1 when any seed failed.
"""

import argparse
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).parents[2]


def run(seed: int, tests: list[str]) -> tuple[int, str]:
    """Run the tests with one seed; return pytest's exit code and what it printed."""
    line = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--hypothesis-profile=fresh"]
    done = subprocess.run(
        [*line, f"--hypothesis-seed={seed}", *tests], cwd=ROOT, capture_output=True, text=True, check=False
    )
    return done.returncode, done.stdout + done.stderr


def main() -> int:
    """Print what failed, seed by seed, and a line in the end."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("tests", nargs="*", default=["tests/laws"])
    args = parser.parse_args()
    seeds = range(args.first, args.first + args.seeds)
    began, failed = time.monotonic(), []
    with ThreadPoolExecutor(args.jobs) as pool:
        for seed, (code, text) in zip(seeds, pool.map(lambda seed: run(seed, args.tests), seeds), strict=True):
            if code:
                failed.append(seed)
                print(f"== seed {seed}: exit code {code}, below 0 when it was killed\n{text[-6000:]}", flush=True)
    took_s = time.monotonic() - began
    print(f"seeds {seeds.start} to {seeds.stop - 1}: {len(failed)} failed {failed or ''} in {took_s:.0f} s")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
