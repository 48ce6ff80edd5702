"""Do the tests guard it?  Change one thing at a time and see whether any test fails.

    python tests/bench/mutants.py                                              station, journal, job and herd; long
    python tests/bench/mutants.py bridge/station/weight/grading.py --mutants 25 --seed 1
    python tests/bench/mutants.py bridge/journal --tests tests/bridge/journal
    python tests/bench/mutants.py bridge/job --quick --results job.jsonl --table job.md

Of each file (or of all in a folder) 25 mutants are drawn by seed (`mutation.py`).  First all tests run once, traced
(`traced.py`); then each mutant meets only the tests that run its line, the quickest and those that killed before first,
up to the first failure.  One that never ends is killed; `--quick` leaves out the laws and what takes long.  `--results`
is a file of what became of each mutant, a JSON line each: begun again, those killed stay so while their file has not
changed, and only the others are tried.  What survives is printed with its change, then a figure per
file: the share killed.  A test that starts the daemon as a process of its own kills nothing here.

Our own few hundred lines, because what the registry offers starts a pytest per mutant (seconds of imports before the
first test); this one collects once and forks, with the mutant put into the running child (`patching.py`).
"""

import argparse
import gc
import hashlib
import importlib
import json
import os
import pickle
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

import pytest

from tests.bench.killed_figures import report, table
from tests.bench.mutation import ROOT, Mutant, mutants
from tests.bench.patching import fresh, functions, notices, patch
from tests.bench.traced import Kept, Ran, Tracer

DOUBTFUL = 77  # a child's exit code: this mutant must be imported afresh
PROGRESS = os.dup(1)
MEMORY = Path("/dev/shm")
DEFAULT = ("bridge/station", "bridge/journal", "bridge/job", "bridge/herd")

SITE = tuple(f"tests/bridge/test_site_{what}.py" for what in ("asks", "findings", "jobs", "pause", "renew", "undo"))
QUICK_S = 5.0  # traced, of processor time

# What covers a place: the longest prefix counts.
COVERING: dict[str, tuple[str, ...]] = {
    "bridge": ("tests/bridge/test_site_asks.py", "tests/laws/test_site_laws.py"),
    "bridge/station": (
        "tests/bridge/station",
        "tests/laws/test_pairing_laws.py",
        "tests/laws/test_station_laws.py",
        "tests/laws/test_settling_laws.py",
        "tests/laws/test_site_laws.py",
        *SITE,
    ),
    "bridge/job": ("tests/bridge/job", "tests/laws", *SITE),
    "bridge/herd": ("tests/bridge/herd", "tests/laws/test_herd_laws.py"),
    "bridge/journal": ("tests/bridge/journal",),
    "bridge/journal/herd_tables.py": ("tests/bridge/journal", "tests/bridge/herd", "tests/laws/test_herd_laws.py"),
    "bridge/reports": ("tests/bridge/reports", "tests/laws/test_tally_laws.py"),
    "protocols": ("tests/protocols", "tests/laws/test_decoder_laws.py", "tests/laws/test_framing_laws.py"),
}


def covering(file: str) -> list[str]:
    """Return the tests of a file: what the table names, and the test file or folder that mirrors it."""
    prefix = max((prefix for prefix in COVERING if f"{file}/".startswith(f"{prefix}/")), key=len, default="")
    named = Path("tests", file).with_name(f"test_{Path(file).name}")
    return [path for path in dict.fromkeys([*COVERING.get(prefix, ()), str(named)]) if (ROOT / path).exists()]


def test_files(paths: list[str]) -> list[Path]:
    """Return the test files at these paths, each once."""
    found = (sorted(path.rglob("test_*.py")) if path.is_dir() else [path] for path in map(ROOT.joinpath, paths))
    return list(dict.fromkeys(file for files in found for file in files))


# -- pytest in children of this process, which has the libraries loaded


def pytest_here(paths: list[str], *plugins: object, first_failure: bool = True) -> int:
    """Run pytest in this process, quietly, and return its exit code."""
    quiet = ["-q", "--no-header", "--tb=line", "-p", "no:cacheprovider", "--hypothesis-seed=0"]
    quiet += ["--hypothesis-profile=mutants", *(["-x", "--timeout=60"] if first_failure else [])]
    rewritten = ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # of plugins loaded already
    return int(pytest.main([*quiet, *rewritten, *paths], plugins=plugins))


def in_a_child(log: Path, work: Callable[[], int]) -> int:
    """Do something in a fork of this process, printing to a file; return its exit code, below 0 when it was ended."""
    sys.stdout.flush()
    if child := os.fork():
        _, status = os.waitpid(child, 0)
        return os.waitstatus_to_exitcode(status)
    code = 3
    try:
        out = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(out, 1)
        os.dup2(out, 2)
        code = work()
    finally:
        sys.stdout.flush()
        os._exit(code)


class Guard:
    """A plugin: end the process when a test takes far longer than it should; note which test failed."""

    def __init__(self, ran: dict[str, Ran], note: Path) -> None:
        """Take how long tests took, and the file that gets the name of the one that fails."""
        self._ran, self._note = ran, note

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Allow twice the processor time that the test took while traced, and some seconds; of ours, more."""
        self._note.write_text(item.nodeid)
        took_s = self._ran[item.nodeid].took_s if item.nodeid in self._ran else 60.0
        item.add_marker(pytest.mark.timeout(5 * took_s + 15))  # what waits for ever takes no processor time
        signal.setitimer(signal.ITIMER_VIRTUAL, 2 * took_s + 4)
        return (yield)


class Results:
    """What became of each mutant, a JSON line each, in a file that a later run goes on with."""

    def __init__(self, place: Path | None) -> None:
        """Take the file, None to keep nothing, and read what is there."""
        self._place = place
        self._known = dict[tuple[str, ...], str]()
        for line in place.read_text("utf-8").splitlines() if place is not None and place.exists() else []:
            one = json.loads(line)
            self._known[one["file"], one["sha256"], one["change"]] = one["fate"]

    def killed(self, mutant: Mutant) -> bool:
        """Say whether an earlier run killed it, in the file as it is now."""
        return self._known.get(self._key(mutant)) == "killed"

    def add(self, mutant: Mutant, fate: str, by: str) -> None:
        """Add what became of a mutant, and which test it was that noticed."""
        if self._place is None:
            return
        file, digest, change = self._key(mutant)
        line = {"file": file, "sha256": digest, "change": change, "line": mutant.line, "fate": fate, "by": by}
        with self._place.open("a", encoding="utf-8") as out:
            out.write(json.dumps(line) + "\n")

    @staticmethod
    def _key(mutant: Mutant) -> tuple[str, str, str]:
        return mutant.file, hashlib.sha256(mutant.original.encode()).hexdigest()[:16], f"{mutant.line}\n{mutant.diff()}"


@dataclass
class Bench:
    """The mutants of some files, and what became of each."""

    folder: Path
    results: "Results"
    mutants: list[Mutant]
    ran: dict[str, Ran]
    sources: dict[str, str]
    fates: dict[Mutant, str] = field(default_factory=dict)  # killed, survived, unseen, or doubtful: import it afresh
    kills: Counter[str] = field(default_factory=Counter)

    def chosen(self, mutant: Mutant) -> list[str]:
        """Return the tests that may notice a mutant, those first that are quick for what they kill."""
        names = notices(mutant, self.ran, self.sources)
        return sorted(names, key=lambda name: (self.ran[name].took_s + 0.01) / (1 + 3 * self.kills[name]))

    def judge(self, mutant: Mutant, code: int, survivor: str) -> None:
        """Note what became of a mutant."""
        if code and code != DOUBTFUL:
            self.kills[self.note.read_text()] += 1
        self.fates[mutant] = "doubtful" if code == DOUBTFUL else "killed" if code else survivor
        if self.fates[mutant] != "doubtful":
            self.results.add(mutant, self.fates[mutant], self.note.read_text() if code else "")
        left = f"\n  survived  {mutant.file}:{mutant.line}\n{mutant.diff()}\n"
        os.write(PROGRESS, {"killed": ".", "doubtful": "?"}.get(self.fates[mutant], left).encode())

    @property
    def note(self) -> Path:
        """Where a child says which test it is at."""
        return self.folder / "at"

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool | None:
        """In place of running what was collected: fork for each mutant; a child returns, to run its tests."""
        items = {item.nodeid: item for item in session.items}
        functions()
        gc.freeze()
        for mutant in self.mutants:
            chosen = [name for name in self.chosen(mutant) if name in items]
            if not chosen:
                self.fates[mutant] = "unseen"
                self.results.add(mutant, "unseen", "")
                continue
            self.note.with_suffix(".how").write_text("")
            if not (child := os.fork()):
                how = patch(mutant)
                if how is None:
                    os._exit(DOUBTFUL)
                self.note.with_suffix(".how").write_text(how)
                session.items[:] = [items[name] for name in chosen]
                session.config.pluginmanager.register(Guard(self.ran, self.note))
                return None
            _, status = os.waitpid(child, 0)
            exact = self.note.with_suffix(".how").read_text() == "exact"
            self.judge(mutant, os.waitstatus_to_exitcode(status), "survived" if exact else "doubtful")
        (self.folder / "fates").write_bytes(pickle.dumps((self.fates, self.kills)))
        os._exit(0)

    def run(self, tests: list[Path]) -> None:
        """Try every mutant: in children of one that has collected all tests, then by a fresh import."""
        if not self.mutants:
            return
        able = {name.partition("::")[0] for mutant in self.mutants for name in self.chosen(mutant)}
        paths = [str(test) for test in tests if str(test.relative_to(ROOT)) in able]
        in_a_child(self.folder / "log", lambda: pytest_here(paths, self))
        self.fates, self.kills = pickle.loads((self.folder / "fates").read_bytes())
        for mutant in [mutant for mutant, fate in self.fates.items() if fate == "doubtful"]:
            code = 0
            for names in _in_parts(self.chosen(mutant)):
                code = code or in_a_child(self.folder / "log", partial(self.imported, mutant, names))
            self.judge(mutant, code, "survived")

    def imported(self, mutant: Mutant, names: list[str]) -> int:
        """Run some tests in this process, which then imports the mutant."""
        fresh(mutant)
        return pytest_here(names, Guard(self.ran, self.note))


def _in_parts(names: list[str]) -> list[list[str]]:
    """Cut tests in two, so that most mutants need not wait until everything is collected."""
    first = list(dict.fromkeys(name.partition("::")[0] for name in names))[:3]
    parts = [name for name in names if name.partition("::")[0] in first]
    return [part for part in (parts, [name for name in names if name not in set(parts)]) if part]


def traced(files: list[str], tests: list[Path], folder: Path) -> dict[str, Ran]:
    """Run the tests once and return which lines each runs; what fails as it is, is said and left out."""
    kept = Kept(ROOT / file for file in files)

    def work(test: Path) -> int:
        tracer = Tracer(("bridge/", "protocols/"))
        code = pytest_here([str(test)], tracer, first_failure=False)
        for failed in tracer.failed:
            os.write(PROGRESS, f"fails as it is: {failed}\n".encode())
            tracer.ran.pop(failed, None)
        kept.save(test, tracer.ran)
        return code

    def all_of(unseen: list[Path]) -> int:
        for name in ("neckyoke.bridge.site.site", "neckyoke.bridge.config.model", "neckyoke.simulators.yard"):
            importlib.import_module(name)  # once, and not for every test file
        return next((3 for test in unseen if in_a_child(folder / "log one", partial(work, test)) not in {0, 1}), 0)

    unseen = [test for test in tests if kept.load(test) is None]
    if unseen and in_a_child(folder / "log", partial(all_of, unseen)):
        sys.exit((folder / "log one").read_text()[-2000:])
    found: dict[str, Ran] = {}
    for test in tests:
        if (seen := kept.load(test)) is None:
            sys.exit(f"what {test} runs was seen by another bench meanwhile; begin again")
        found |= seen
    return found


def main() -> None:
    """Mutate, run, and print what survived."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("files", nargs="*", default=DEFAULT, help="files or folders, from the top of the tree")
    parser.add_argument("--mutants", type=int, default=25, help="how many a file")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tests", nargs="*", help="in place of those that the table names")
    parser.add_argument("--quick", action="store_true", help="without the laws and what takes longer than some seconds")
    parser.add_argument("--results", type=Path, help="a file of what became of each: go on with it")
    parser.add_argument("--table", type=Path, help="write the figures there as a table in Markdown")
    parser.add_argument("--trace", action="store_true", help="only see which test runs what, for later")
    args = parser.parse_args()
    files = [str(path.relative_to(ROOT)) for one in args.files for path in _files(ROOT / one)]
    import hypothesis  # loaded once, before the children are forked
    import numpy as np  # noqa: F401
    import pydantic  # noqa: F401
    import scipy.stats  # noqa: F401
    import structlog  # noqa: F401

    phases = (hypothesis.Phase.explicit, hypothesis.Phase.generate)  # nobody reads the shrunk example
    hypothesis.settings.register_profile("mutants", deadline=None, phases=phases, database=None)
    sys.dont_write_bytecode = True
    if MEMORY.is_dir():
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))  # thousands of journals need no real disk
    tests = test_files(args.tests or [path for file in files for path in covering(file)])
    if args.quick:
        tests = [test for test in tests if test.parent.name != "laws"]
    results = Results(args.results)
    with tempfile.TemporaryDirectory(prefix="mutants-") as made:
        began = time.monotonic()
        ran = traced(files, tests, Path(made))
        print(f"{len(ran)} tests traced in {time.monotonic() - began:.0f} s", flush=True)
        if args.trace:
            return
        sources = {
            file: (ROOT / file).read_text() for file in sorted({file for one in ran.values() for file in one.lines})
        }
        drawn = {file: mutants(file, args.mutants, args.seed) for file in files}
        meant = [mutant for ones in drawn.values() for mutant in ones if not mutant.why_equivalent()]
        if args.quick:
            ran = {name: one for name, one in ran.items() if one.took_s <= QUICK_S}
        left = [mutant for mutant in meant if not results.killed(mutant)]
        bench = Bench(Path(made), results, left, ran, sources)
        bench.run(tests)
    figures = report(drawn, dict.fromkeys(meant, "killed") | bench.fates)
    if args.table:
        args.table.write_text(table(figures), "utf-8")


def _files(place: Path) -> list[Path]:
    files = sorted(place.rglob("*.py")) if place.is_dir() else [place]
    return [file for file in files if file.name != "__init__.py"]


if __name__ == "__main__":
    main()
