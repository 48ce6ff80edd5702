"""Do the tests guard it?  Change one thing at a time and see whether any test fails.

    python tests/bench/mutants.py                                              station, journal and job; long
    python tests/bench/mutants.py bridge/station/weight/grading.py --mutants 25 --seed 1 -j 1

Files (or folders) are mutated in throw-away copies of this tree, 25 mutants each, drawn by seed (`mutation.py`).  Each
is run against the tests that cover the file (`COVERING`), up to the first failure; one that never ends counts as
killed.  What survives is printed with its change, then a figure per file: the share killed.

Our own 350 lines, because what the registry offers starts a pytest per mutant (2 s of imports before the first test) or
needs its own layout of the tree; this one forks from a process that has the libraries loaded.
"""

import argparse
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.bench.mutation import ROOT, Mutant, mutants

DEFAULT = ("bridge/station", "bridge/journal", "bridge/job")
LAWS, STATION = "tests/laws/", "tests/bridge/station/"

# What covers a file beside the tests of its own folder: the longest prefix counts.  Quick ones first.
COVERING: dict[str, tuple[str, ...]] = {
    "bridge": ("tests/bridge/test_site_asks.py", f"{LAWS}test_site_laws.py"),
    "protocols": (
        "tests/protocols/test_decoder.py",
        "tests/protocols/test_captures.py",
        "tests/protocols/scale/test_ble.py",
        f"{LAWS}test_decoder_laws.py",
    ),
    "protocols/framing": (f"{LAWS}test_framing_laws.py", "tests/protocols/test_decoder.py"),
    "protocols/recognition": ("tests/protocols/test_recognise.py",),
    "bridge/station": ("tests/bridge/station", f"{LAWS}test_pairing_laws.py", f"{LAWS}test_settling_laws.py"),
    "bridge/station/weight": (f"{STATION}platform", f"{STATION}test_station_events.py", f"{LAWS}test_settling_laws.py"),
    "bridge/station/platform": (f"{STATION}test_station_events.py", f"{LAWS}test_settling_laws.py"),
    "bridge/station/tags": (f"{STATION}tags", f"{STATION}test_station_events.py", f"{LAWS}test_pairing_laws.py"),
    "bridge/job": ("tests/bridge/job", f"{LAWS}test_job_laws.py", "tests/bridge/test_site_asks.py"),
    "bridge/journal": ("tests/bridge/journal",),
    "bridge/reports": ("tests/bridge/reports", f"{LAWS}test_tally_laws.py"),
}


def covering(file: str) -> list[str]:
    """Return the tests of a file: its own folder's (or file's) first, then what the table names."""
    prefix = max((prefix for prefix in COVERING if file.startswith(f"{prefix}/")), key=len, default="")
    named = Path("tests", file).with_name(f"test_{Path(file).name}")
    own = [str(up) for up in named.parents if len(up.parts) > 2][:1]
    paths = dict.fromkeys([str(named), *own, *COVERING.get(prefix, ())])
    return [path for path in paths if (ROOT / path).exists()]


def start(tree: Path, tests: list[str]) -> int:
    """Run tests in a tree, in a child of this process with the libraries loaded; return its number."""
    if child := os.fork():
        return child
    code = 3
    try:
        os.setsid()
        os.chdir(tree)
        kept = (path for path in sys.path if path and "neckyoke" not in path and path != str(ROOT))
        sys.path[:] = [str(tree / ".src"), *kept]
        for name in [name for name in sys.modules if name.partition(".")[0] in {"tests", "neckyoke"}]:
            del sys.modules[name]  # those of this tree, not of the copy
        os.environ |= {"PYTHONPATH": f"{tree / '.src'}:{tree}", "PYTHONDONTWRITEBYTECODE": "1"}
        sys.dont_write_bytecode = True
        out = os.open(tree / "out.txt", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(out, 1)
        os.dup2(out, 2)
        import pytest

        quiet = ["-q", "-x", "--no-header", "--tb=line", "-p", "no:cacheprovider", "--hypothesis-seed=0"]
        quiet.append("--hypothesis-profile=mutants")
        rewritten = ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # of plugins loaded already
        code = int(pytest.main([*quiet, *rewritten, *tests]))
    finally:
        os._exit(code)


def finish(child: int, deadline: float | None) -> int | None:
    """Return a child's exit code, 99 when it had to be ended, None while it runs."""
    done, status = os.waitpid(child, os.WNOHANG)
    if done:
        return os.waitstatus_to_exitcode(status)
    if deadline is not None and time.monotonic() > deadline:
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return 99
    return None


def made_tree(folder: Path) -> Path:
    """Copy what git would hold of this tree, changes included, to a folder."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT, check=True, capture_output=True, text=True,
    ).stdout  # fmt: skip
    for name in filter(None, listed.split("\0")):
        if (ROOT / name).is_symlink() or (ROOT / name).exists():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, folder / name, follow_symlinks=False)
    return folder


def run_file(file: str, trees: list[Path], count: int, seed: int) -> tuple[int, int, int]:
    """Run all mutants of one file: how many were killed, survived, and mean the same."""
    tests = covering(file)
    began = time.monotonic()
    child = start(trees[0], tests)
    while (code := finish(child, None)) is None:
        time.sleep(0.02)
    if code:
        print(f"{file}: its tests fail as it is: {(trees[0] / 'out.txt').read_text()[-400:]}")
        return 0, 0, 0
    allowed = 4 * (time.monotonic() - began) * len(trees) + 20
    waiting, killed, survived, same = mutants(file, count, seed), 0, 0, 0
    running: dict[int, tuple[Mutant, Path, float]] = {}
    free = list(trees)
    while waiting or running:
        while waiting and free:
            mutant, tree = waiting.pop(0), free.pop()
            if mutant.why_equivalent():
                same += 1
                free.append(tree)
                continue
            (tree / file).write_text(mutant.text, encoding="utf-8")
            running[start(tree, tests)] = (mutant, tree, time.monotonic() + allowed)
        for child, (mutant, tree, deadline) in list(running.items()):
            if (code := finish(child, deadline)) is None:
                continue
            del running[child]
            free.append(tree)
            (tree / file).write_text(mutant.original, encoding="utf-8")
            killed, survived = killed + bool(code), survived + (not code)
            if not code:
                print(f"  survived  {mutant.file}:{mutant.line}\n{mutant.diff()}", flush=True)
        time.sleep(0.02)
    return killed, survived, same


def main() -> None:
    """Mutate, run, and print what survived."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("files", nargs="*", default=DEFAULT, help="files or folders, from the top of the tree")
    parser.add_argument("--mutants", type=int, default=25, help="how many a file")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("-j", type=int, default=2, help="how many at once")
    args = parser.parse_args()
    named = [path.relative_to(ROOT) for one in args.files for path in (_files(ROOT / one))]
    import hypothesis  # loaded once, before the children are forked
    import pydantic  # noqa: F401
    import pytest  # noqa: F401
    import structlog  # noqa: F401

    phases = (hypothesis.Phase.explicit, hypothesis.Phase.generate)  # nobody reads the shrunk example
    hypothesis.settings.register_profile("mutants", deadline=None, phases=phases, database=None)
    totals = [0, 0, 0]
    figures = list[str]()
    with tempfile.TemporaryDirectory(prefix="mutants-") as made:
        trees = [made_tree(Path(made) / str(n)) for n in range(args.j)]
        for file in map(str, named):
            killed, survived, same = run_file(file, trees, args.mutants, args.seed)
            totals = [totals[0] + killed, totals[1] + survived, totals[2] + same]
            figures.append(_figure(file, killed, survived, same))
            print(figures[-1], flush=True)
    if len(named) > 1:
        print("\n" + "\n".join([*figures, _figure("all", *totals)]))


def _files(place: Path) -> list[Path]:
    files = sorted(place.rglob("*.py")) if place.is_dir() else [place]
    return [file for file in files if file.name != "__init__.py"]


def _figure(name: str, killed: int, survived: int, same: int) -> str:
    share = f"{100 * killed / (killed + survived):3.0f} %" if killed + survived else "  - %"
    return f"{share}  {name}: {killed} of {killed + survived} killed" + (f", {same} mean the same" if same else "")


if __name__ == "__main__":
    main()
