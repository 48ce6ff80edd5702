"""One change to a file's text at a time: which there are, and a draw of them by seed.

Comparisons turned and shifted by one, operands dropped or swapped, whole numbers moved by one and others by a factor of
two, conditions negated, calls deleted, returns changed.  `mutants.py` runs the tests against them.
"""

import ast
import copy
import difflib
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.bench.equivalents import EQUIVALENT

ROOT = Path(__file__).parents[2]

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
