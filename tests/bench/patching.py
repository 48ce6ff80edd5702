"""A mutant put into a running process, so that nothing need be imported again.

A change within a function is its code swapped; one within a constant of a module is the constant, there and wherever it
was imported.  The rest (class bodies, defaults of arguments) is only right in a fresh import: `fresh`.
"""

import ast
import gc
import re
import sys
from functools import cache
from importlib.machinery import SourceFileLoader
from types import CodeType, FunctionType, ModuleType
from typing import Any

from tests.bench.mutation import ROOT, Mutant
from tests.bench.traced import Ran

HERE = "/.src/neckyoke/"
FUNCTION = ast.FunctionDef | ast.AsyncFunctionDef


def _around(tree: ast.Module, line: int) -> tuple[ast.stmt, ast.stmt | None, ast.stmt]:
    """Return the top-level statement that holds a line, the outermost function, and the innermost statement."""
    holds = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.stmt) and node.lineno <= line <= (node.end_lineno or node.lineno)
    ]
    function = next((node for node in holds if isinstance(node, FUNCTION) and node.body[0].lineno <= line), None)
    return holds[0], function, holds[-1]


def _names(statement: ast.stmt) -> list[str]:
    targets = statement.targets if isinstance(statement, ast.Assign) else [getattr(statement, "target", None)]
    parts = [part for target in targets for part in (target.elts if isinstance(target, ast.Tuple) else [target])]
    return [part.id for part in parts if isinstance(part, ast.Name)]


def notices(mutant: Mutant, ran: dict[str, Ran], sources: dict[str, str]) -> list[str]:
    """Return the tests that could notice a mutant: those that run its line, or a line that names what it defines."""
    top, function, inner = _around(ast.parse(mutant.original), mutant.line)
    wanted: dict[str, set[int]] = {}
    if function is not None:
        body = getattr(inner, "body", None)
        last = body[0].lineno - 1 if body and body[0].lineno > inner.lineno else inner.end_lineno
        wanted[mutant.file] = {mutant.line, *range(inner.lineno, (last or inner.lineno) + 1)}
    else:
        names = _names(inner) + ([top.name] if isinstance(top, ast.ClassDef | FUNCTION) else [])
        word = re.compile(rf"\b({'|'.join(map(re.escape, names)) or '(?!)'})\b")
        for file, text in sources.items():
            wanted[file] = {at for at, line in enumerate(text.splitlines(), 1) if word.search(line)}
        wanted.setdefault(mutant.file, set()).update(range(top.lineno, (top.end_lineno or top.lineno) + 1))
    none = frozenset[int]()
    named = set()
    if function is None:  # a test may look at what is defined without running a line of ours that names it
        tests = {name.partition("::")[0] for name in ran}
        named = {test for test in tests if word.search((ROOT / test).read_text(encoding="utf-8"))}
    return [
        name
        for name, one in ran.items()
        if name.partition("::")[0] in named or any(one.lines.get(file, none) & at for file, at in wanted.items())
    ]


def _codes(code: CodeType) -> dict[tuple[str, int], CodeType]:
    found = {}
    for const in code.co_consts:
        if isinstance(const, CodeType):
            found[const.co_qualname, const.co_firstlineno] = const
            found |= _codes(const)
    return found


def patch(mutant: Mutant) -> str | None:
    """Put a mutant into this process: "exact", "near" when a constant was changed, None when it must be imported."""
    top, function, inner = _around(ast.parse(mutant.original), mutant.line)
    path = str(ROOT / ".src" / "neckyoke" / mutant.file)
    if function is not None:
        return "exact" if _swap(mutant, path, function) else None
    name = "neckyoke." + mutant.file.removesuffix(".py").replace("/", ".")
    names = _names(inner) if top is inner and isinstance(inner, ast.Assign | ast.AnnAssign) else []
    if not names or name not in sys.modules:
        return None
    _set(mutant, sys.modules[name], names, inner.lineno)
    return "near"


@cache
def functions() -> dict[tuple[str, str, int], list[FunctionType]]:
    """Return the product's functions by file, qualified name and first line."""
    found: dict[tuple[str, str, int], list[FunctionType]] = {}
    gc.unfreeze()  # what is frozen is not listed, and tests freeze what they have collected
    for one in gc.get_objects():
        if type(one) is FunctionType and HERE in one.__code__.co_filename:
            code = one.__code__
            found.setdefault((code.co_filename, code.co_qualname, code.co_firstlineno), []).append(one)
    return found


def _swap(mutant: Mutant, path: str, function: ast.stmt) -> bool:
    first = min([function.lineno, *(one.lineno for one in getattr(function, "decorator_list", []))])
    name = getattr(function, "name", "")
    for (qual, line), code in _codes(compile(mutant.text, path, "exec", dont_inherit=True)).items():
        if line == first and qual.split(".")[-1] == name:
            there = functions().get((path, qual, line), [])
            if any(file == path and one.startswith(f"{qual}.<locals>.") for file, one, _ in functions()):
                return False  # a function that it made on import has its code already
            if not there or any(len(one.__code__.co_freevars) != len(code.co_freevars) for one in there):
                return False
            for one in there:
                one.__code__ = code
            return True
    return False


def _set(mutant: Mutant, module: ModuleType, names: list[str], line: int) -> None:
    statement = next(node for node in ast.parse(mutant.text).body if node.lineno == line)
    space = dict(vars(module))
    exec(compile(ast.Module([statement], []), "mutant", "exec"), space)
    for name in names:
        old = vars(module)[name]
        for other in list(sys.modules.values()):
            if getattr(other, "__name__", "").startswith(("neckyoke", "tests")) and vars(other).get(name) is old:
                setattr(other, name, space[name])


def fresh(mutant: Mutant) -> None:
    """Make this process import a mutant in its file's place, from now on."""
    path = str(ROOT / ".src" / "neckyoke" / mutant.file)
    original = SourceFileLoader.get_code

    def get_code(self: SourceFileLoader, fullname: str) -> Any:
        if self.path == path:
            return compile(mutant.text, path, "exec", dont_inherit=True)
        return original(self, fullname)

    SourceFileLoader.get_code = get_code  # type: ignore[method-assign, assignment]
