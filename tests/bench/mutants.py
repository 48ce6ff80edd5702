"""Do the tests guard it?  Change one thing at a time and see whether any test fails.

    python tests/bench/mutants.py                                              station, journal and job; long
    python tests/bench/mutants.py bridge/station/weight/grading.py --mutants 25 --seed 1 -j 1

Files (or folders) are mutated in throw-away copies of this tree, 25 mutants each, drawn by seed: comparisons turned and
shifted by one, operands dropped or swapped, whole numbers moved by one and others by a factor of two, conditions
negated, calls deleted, returns changed.  Each is run against the tests that cover the file (`COVERING`), up to the
first failure; one that never ends counts as killed.  What survives is printed with its change, then a figure per file:
the share killed.

Our own 250 lines, because what the registry offers starts a pytest per mutant (2 s of imports before the first test) or
needs its own layout of the tree; this one forks from a process that has the libraries loaded.
"""

import argparse
import ast
import copy
import difflib
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
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

# Mutants that mean the same as the original: (file, what the line becomes, stripped) -> why no test can tell.
EQUIVALENT: dict[tuple[str, str], str] = {
    (
        "bridge/station/weight/estimators.py",
        "y = [value for value in values]",
    ): "a variance does not hang on where it is counted from",
    (
        "bridge/station/weight/estimators.py",
        "return math.sqrt(fmean(((centre - value)) ** 2 for value in values))",
    ): "squared",
    ("bridge/station/weight/estimators.py", "best = (-2.0, median(ordered))"): "any density is more",
    ("bridge/station/weight/estimators.py", "if (abs(level - before) <= 0.002 * reach):"): "equal only by chance",
    ("bridge/station/weight/bins.py", "self.started = 1.0"): "set again by the first reading",
    (
        "bridge/station/weight/bins.py",
        "for total, count in zip(self._sums[start:], self._counts[start:], strict=False):",
    ): "always of one length",
    (
        "bridge/station/weight/plateau.py",
        "rest = start + ((settled_from(bins[start:stop + 1], LEFT_BINS)))",
    ): "of fewer bins it cuts none",
    (
        "bridge/station/weight/settling.py",
        "return self.first is not None and (kg) > SUPERSEDES * (self.first.kg or 0.0)",
    ): "a median is never None",
    ("bridge/station/weight/settling.py", "self._next_look = 1"): "the first reading makes a bin",
    (
        "bridge/station/weight/provisional.py",
        "few_cycles = (sine.hz * window.span_s <= CYCLES) and scatter(values) > STILL * kg",
    ): "equal only by chance",
    ("protocols/framing/enclosed.py", "self._missing = -1"): "set anew before it is looked at",
    ("protocols/framing/enclosed.py", "self._missing = 1"): "set anew before it is looked at",
    ("bridge/job/roster/cells.py", "age = -0"): "as little an age as -1",
}

TURNED: dict[type, tuple[type, ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.And: (ast.Or,),
    ast.Or: (ast.And,),
    ast.Add: (ast.Sub,),
    ast.Sub: (ast.Add,),
    ast.Mult: (ast.Div,),
    ast.Div: (ast.Mult,),
    ast.FloorDiv: (ast.Div,),
    ast.Mod: (ast.Mult,),
    ast.BitAnd: (ast.BitOr,),
    ast.BitOr: (ast.BitAnd,),
    ast.BitXor: (ast.BitOr,),
    ast.LShift: (ast.RShift,),
    ast.RShift: (ast.LShift,),
}
RENAMED = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor"}
WORD = re.compile(r"[a-z][a-z0-9_-]*")  # a string that means something to the program and is no sentence


def variants(node: ast.AST) -> Iterator[ast.AST]:
    """List what could stand in a node's place."""
    match node:
        case ast.Compare(ops=ops):
            for at, op in enumerate(ops):
                for turned in TURNED[type(op)]:
                    yield _with(node, ops=[*ops[:at], turned(), *ops[at + 1 :]])
        case ast.BoolOp(op=op, values=values):
            yield _with(node, op=TURNED[type(op)][0]())
            for at in range(len(values)):
                rest = values[:at] + values[at + 1 :]
                yield rest[0] if len(rest) == 1 else _with(node, values=rest)
        case ast.BinOp(left=left, op=op, right=right):
            yield from (_with(node, op=turned()) for turned in TURNED.get(type(op), ()))
            yield from (left, right)
            if isinstance(op, ast.Sub | ast.Div):
                yield _with(node, left=right, right=left)
        case ast.UnaryOp(operand=operand) if not isinstance(operand, ast.Constant):
            yield operand
        case ast.Constant(value=bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield from (ast.Constant(value + 1), ast.Constant(value - 1))
        case ast.Constant(value=float(value)):
            yield from (ast.Constant(value * by) for by in (2.0, 0.5) if value)
            if not value:
                yield ast.Constant(1.0)
        case ast.Constant(value=str(value)) if WORD.fullmatch(value):
            yield ast.Constant(f"{value}-x")
        case ast.Call(func=ast.Name(id=name)) if name in RENAMED:
            yield _with(node, func=ast.Name(RENAMED[name]))
        case ast.IfExp(body=body, orelse=orelse, test=test):
            yield from (body, orelse, _with(node, test=ast.UnaryOp(ast.Not(), test)))
        case ast.If(test=test) | ast.While(test=test):
            yield ast.UnaryOp(ast.Not(), test)  # stands in the place of the test: see `_place`
        case ast.Return(value=ast.AST() as value) if not isinstance(value, ast.Constant):
            yield ast.Return(ast.Constant(None))
        case ast.AugAssign(op=op):
            yield from (_with(node, op=turned()) for turned in TURNED.get(type(op), ()))
            yield ast.Pass()
        case ast.Expr(value=ast.Call() | ast.Await()):
            yield ast.Pass()
        case ast.Break():
            yield ast.Continue()
        case ast.Continue():
            yield ast.Break()
        case ast.Slice(lower=lower, upper=upper):
            if lower:
                yield _with(node, lower=None)
            if upper:
                yield _with(node, upper=None)


def _with(node: ast.AST, **changed: object) -> ast.AST:
    made = copy.copy(node)
    for name, value in changed.items():
        setattr(made, name, value)
    return made


def _place(node: ast.AST) -> ast.AST:
    return node.test if isinstance(node, ast.If | ast.While) else node


def _walk(node: ast.AST) -> Iterator[ast.AST]:
    """Walk what runs: no annotations, docstrings, assertions, sentences for people, nor decorators."""
    if isinstance(node, ast.JoinedStr | ast.Assert | ast.Import | ast.ImportFrom | ast.Raise):
        return
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return
    if isinstance(node, ast.AnnAssign) and "TypeAlias" in ast.unparse(node.annotation):
        return
    if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
        return
    yield node
    for name, value in ast.iter_fields(node):
        if name in {"annotation", "returns", "decorator_list", "bases"} or isinstance(value, str):
            continue
        if name == "targets" and isinstance(node, ast.Assign) and "__slots__" in ast.unparse(node):
            return
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _walk(child)


@dataclass(frozen=True)
class Mutant:
    """One change to one file: the whole text with it, and where it is."""

    file: str
    line: int
    text: str
    original: str

    def diff(self) -> str:
        """Return the lines that differ."""
        lines = difflib.unified_diff(self.original.splitlines(), self.text.splitlines(), lineterm="", n=0)
        return "\n".join(f"    {line}" for line in list(lines)[3:])

    def why_equivalent(self) -> str | None:
        """Return why no test can tell it from the original, where that is known."""
        there = {line[5:].strip() for line in self.diff().splitlines() if line.startswith("    +")}
        return next((EQUIVALENT[self.file, line] for line in there if (self.file, line) in EQUIVALENT), None)


def mutants(file: str, count: int, seed: int) -> list[Mutant]:
    """Draw mutants of a file: first a place, then one of its variants, so that none has more than its share."""
    text = (ROOT / file).read_text(encoding="utf-8")
    places = [(node, list(variants(node))) for node in _walk(ast.parse(text))]
    rng = random.Random(f"{seed} {file}")
    left = [(node, rng.sample(ways, len(ways))) for node, ways in places if ways]
    drawn = list[Mutant]()
    while left and len(drawn) < count:
        rng.shuffle(left)
        for node, ways in left[: count - len(drawn)]:
            made = _spliced(text, _place(node), ways.pop())
            if made != text and _compiles(made):
                drawn.append(Mutant(file, _place(node).lineno, made, text))  # type: ignore[attr-defined]
        left = [(node, ways) for node, ways in left if ways]
    return drawn


def _spliced(text: str, place: ast.AST, new: ast.AST) -> str:
    data = text.encode()
    starts = [0]
    for line in data.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    begin = starts[place.lineno - 1] + place.col_offset  # type: ignore[attr-defined]
    end = starts[place.end_lineno - 1] + place.end_col_offset  # type: ignore[attr-defined]
    spelled = ast.unparse(ast.fix_missing_locations(new))
    if not isinstance(new, ast.stmt | ast.Slice | ast.Constant | ast.Name):
        spelled = f"({spelled})"
    return (data[:begin] + spelled.encode() + data[end:]).decode()


def _compiles(text: str) -> bool:
    try:
        compile(text, "mutant", "exec")
    except SyntaxError:
        return False
    return True


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
        sys.path[:] = [str(tree / ".src"), *(path for path in sys.path if "neckyoke" not in path and path)]
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
