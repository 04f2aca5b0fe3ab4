"""Faults that can be put into a module: one change of one node of its syntax tree each."""

from __future__ import annotations

import ast
import random
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
}
NAMES = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "minimum": "maximum",
    "maximum": "minimum",
    "floor": "ceil",
    "ceil": "floor",
    "argmin": "argmax",
    "argmax": "argmin",
    "left": "right",
    "right": "left",
    "mean": "sum",
    "cumsum": "cumprod",
}
# What is said to people, what only types read, and what changes the speed alone.
SPARED = {"Field", "field", "lru_cache", "cache", "TypeVar", "NewType", "cast", "getLogger", "TypeAdapter"}


@dataclass(frozen=True)
class Mutant:
    """One fault: at `line` of `path`, the text from `begin` to `end` (byte offsets) is replaced."""

    path: str
    line: int
    last_line: int
    kind: str
    begin: int
    end: int
    before: str
    after: str

    def apply(self, source: bytes) -> bytes:
        return source[: self.begin] + self.after.encode() + source[self.end :]


def _other_values(node: ast.Constant) -> Iterator[tuple[str, ast.expr]]:
    value = node.value
    if isinstance(value, bool):
        yield "truth value", ast.Constant(not value)
    elif isinstance(value, int):
        yield "constant", ast.Constant(value + 1)
    elif isinstance(value, float):
        yield "constant", ast.Constant(value * 2 if value else 1.0)


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str | bytes))


def _of_sum(node: ast.BinOp) -> Iterator[tuple[str, ast.expr]]:
    if type(node.op) not in ARITHMETIC or _is_text(node.left) or _is_text(node.right):
        return
    yield "operator", ast.BinOp(node.left, ARITHMETIC[type(node.op)](), node.right)
    yield "dropped term", node.left
    if isinstance(node.op, ast.Add | ast.Mult):
        yield "dropped term", node.right


def _of_call(node: ast.Call) -> Iterator[tuple[str, ast.expr]]:
    function = node.func
    if isinstance(function, ast.Name) and function.id in NAMES:
        yield "function", ast.Call(ast.Name(NAMES[function.id]), node.args, node.keywords)
    elif isinstance(function, ast.Attribute) and function.attr in NAMES:
        yield "function", ast.Call(ast.Attribute(function.value, NAMES[function.attr]), node.args, node.keywords)
    if len(node.args) >= 2 and not any(isinstance(item, ast.Starred) for item in node.args[:2]):
        first, second, *others = node.args
        yield "arguments swapped", ast.Call(function, [second, first, *others], node.keywords)


def expressions(node: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    """What an expression may be replaced by."""
    match node:
        case ast.Constant():
            yield from _other_values(node)
        case ast.BinOp():
            yield from _of_sum(node)
        case ast.Call():
            yield from _of_call(node)
        case ast.UnaryOp(op=ast.USub() | ast.Not()):
            yield "sign" if isinstance(node.op, ast.USub) else "negation", node.operand
        case ast.Compare(ops=[operator]):
            for other in COMPARISONS[type(operator)]:
                yield "comparison", ast.Compare(node.left, [other()], node.comparators)
        case ast.Compare(left=left, ops=[first, *others], comparators=comparators):
            for other in COMPARISONS[type(first)]:
                yield "comparison", ast.Compare(left, [other(), *others], comparators)
        case ast.BoolOp(op=operator, values=values):
            yield "and, or", ast.BoolOp(ast.Or() if isinstance(operator, ast.And) else ast.And(), values)
            for place in range(len(values)):
                rest = values[:place] + values[place + 1 :]
                yield "dropped condition", rest[0] if len(rest) == 1 else ast.BoolOp(operator, rest)
        case ast.IfExp():
            yield "branches swapped", ast.IfExp(node.test, node.orelse, node.body)


def statements(node: ast.AST) -> Iterator[tuple[str, ast.stmt]]:
    """What a statement may be replaced by."""
    match node:
        case ast.Return(value=ast.expr() as value) if not (isinstance(value, ast.Constant) and value.value is None):
            yield "returned None", ast.Return(ast.Constant(None))
        case ast.AugAssign() if type(node.op) in ARITHMETIC and not _is_text(node.value):
            yield "operator", ast.AugAssign(node.target, ARITHMETIC[type(node.op)](), node.value)
            yield "dropped statement", ast.Pass()
        case ast.Expr(value=ast.Call()):
            yield "dropped statement", ast.Pass()
        case ast.Continue():
            yield "loop", ast.Break()
        case ast.Break():
            yield "loop", ast.Continue()


def _is_spared(node: ast.AST) -> bool:
    if isinstance(node, ast.Raise | ast.Assert | ast.JoinedStr | ast.Import | ast.ImportFrom):
        return True
    if isinstance(node, ast.Call):
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        return name in SPARED
    return isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def _children(node: ast.AST) -> Iterator[ast.AST]:
    for name, value in ast.iter_fields(node):
        # Types, decorators, and words like strict=True change nothing that is computed.
        if name in ("annotation", "returns", "decorator_list", "type_params", "bases"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.keyword) and child.arg in ("strict", "default_factory", "slots", "frozen"):
                continue
            if isinstance(child, ast.AST):
                yield child


def mutants_of(path: str, source: str) -> list[Mutant]:
    """All faults for a module, in the order of its text."""
    starts = [0]
    for text in source.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(text))
    data, found = source.encode(), []

    def add(node: ast.expr | ast.stmt, kind: str, text: str) -> None:
        assert node.end_lineno is not None and node.end_col_offset is not None
        begin, end = starts[node.lineno - 1] + node.col_offset, starts[node.end_lineno - 1] + node.end_col_offset
        before = data[begin:end].decode()
        found.append(Mutant(path, node.lineno, node.end_lineno, kind, begin, end, before, text))

    def visit(node: ast.AST) -> None:
        if _is_spared(node):
            return
        if isinstance(node, ast.expr):
            for kind, other in expressions(node):
                add(node, kind, f"({ast.unparse(ast.fix_missing_locations(other))})")
        elif isinstance(node, ast.stmt):
            for kind, statement in statements(node):
                add(node, kind, ast.unparse(ast.fix_missing_locations(statement)))
            if isinstance(node, ast.If | ast.While):
                add(node.test, "condition", f"(not ({ast.unparse(node.test)}))")
        for child in _children(node):
            visit(child)

    visit(ast.parse(source))
    return sorted(found, key=lambda one: (one.begin, one.end, one.kind, one.after))


def sampled(root: Path, folders: list[str], count: int, seed: int) -> list[Mutant]:
    """As many faults from each folder, at most one a line, drawn with a seed."""
    chosen: list[Mutant] = []
    for place, folder in enumerate(folders):
        by_line: dict[tuple[str, int], list[Mutant]] = defaultdict(list)
        for file in sorted((root / folder).rglob("*.py")):
            path = file.relative_to(root).as_posix()
            for one in mutants_of(path, file.read_text(encoding="utf-8")):
                by_line[one.path, one.line].append(one)
        draw = random.Random(f"{seed} {folder}")
        share = count // len(folders) + (place < count % len(folders))
        lines = draw.sample(sorted(by_line), min(share, len(by_line)))
        chosen += [draw.choice(by_line[line]) for line in lines]
    return chosen
