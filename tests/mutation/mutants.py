"""Mutants: copies of the source with one small fault each, drawn uniformly over the lines that can have one."""

from __future__ import annotations

import ast
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("physics", "engine", "journey/kernel", "planning")

_COMPARE = {
    ast.Lt: ("<=", ">="), ast.LtE: ("<", ">"), ast.Gt: (">=", "<="), ast.GtE: (">", "<"), ast.Eq: ("!=",),
    ast.NotEq: ("==",), ast.Is: ("is not",), ast.IsNot: ("is",), ast.In: ("not in",), ast.NotIn: ("in",),
}  # fmt: skip
_ARITHMETIC = {
    ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.Pow: "*", ast.FloorDiv: "*", ast.Mod: "//",
}  # fmt: skip
_OTHER_NAME = {
    "min": "max",
    "max": "min",
    "minimum": "maximum",
    "maximum": "minimum",
    "any": "all",
    "all": "any",
}
_SKIPPED = (ast.Import, ast.ImportFrom, ast.JoinedStr, ast.Global, ast.Nonlocal, ast.Assert)


@dataclass(frozen=True, slots=True, order=True)
class Mutant:
    """A replacement of one piece of one source file."""

    file: str  # below the package
    line: int
    column: int
    end_line: int
    end_column: int
    statement: int  # first line of the statement
    function: str
    text: str  # of the line that changes, as it stands
    old: str
    new: str

    @property
    def change(self) -> str:
        """The fault in one line: what stood there and what stands there now."""
        return f"{_flat(self.old)} -> {_flat(self.new)}"

    def applied(self, source: str) -> str:
        """The source of the file with the fault."""
        lines = _lines(source)
        start = sum(map(len, lines[: self.line - 1])) + self.column
        end = sum(map(len, lines[: self.end_line - 1])) + self.end_column
        content = source.encode()
        return (content[:start] + self.new.encode() + content[end:]).decode()


def mutants_of(file: str, source: str) -> list[Mutant]:
    """All mutants of a file.

    Args:
        file: Its path below the package.
        source: Its text.
    """
    found: list[Mutant] = []
    lines = source.splitlines()
    for node, function, statement in _nodes(ast.parse(source), "", 1):
        for place, new in _faults(node, source):
            old = _segment(place, source)
            if old != new:
                found.append(
                    Mutant(
                        file, place.lineno, place.col_offset, place.end_lineno or 0, place.end_col_offset or 0,
                        statement, function, lines[place.lineno - 1].strip(), old, new,
                    )
                )  # fmt: skip
    return sorted(set(found))


def sample(files: dict[str, list[Mutant]], count: int, seed: int) -> list[Mutant]:
    """Draw lines without replacement, each equally likely, and one mutant of each.

    Args:
        files: Mutants of each file.
        count: Number of lines.
        seed: Of the draw.
    """
    lines: dict[tuple[str, int], list[Mutant]] = {}
    for file in sorted(files):
        for mutant in files[file]:
            lines.setdefault((file, mutant.line), []).append(mutant)
    draw = random.Random(seed)
    drawn = draw.sample(sorted(lines), min(count, len(lines)))
    return [draw.choice(lines[line]) for line in drawn]


def all_mutants(package: Path = ROOT / "locosim") -> dict[str, list[Mutant]]:
    """Mutants of each file of the rooms."""
    paths = sorted(path for room in ROOMS for path in (package / room).rglob("*.py"))
    return {
        path.relative_to(package).as_posix(): mutants_of(
            path.relative_to(package).as_posix(), path.read_text(encoding="utf-8")
        )
        for path in paths
    }


def of_rooms(files: dict[str, list[Mutant]], rooms: Sequence[str]) -> dict[str, list[Mutant]]:
    """The mutants of the files of some rooms."""
    return {
        file: found for file, found in files.items() if any(file.startswith(f"{room}/") for room in rooms)
    }


def _nodes(node: ast.AST, function: str, statement: int) -> Iterator[tuple[ast.AST, str, int]]:
    """Nodes of code that runs, each with its function and the line of its statement; no types or docstrings."""
    for child in _children(node):
        if isinstance(child, _SKIPPED) or _is_text(child):
            continue
        inner = function
        if isinstance(child, ast.FunctionDef | ast.ClassDef):
            inner = f"{function}.{child.name}".lstrip(".")
        begun = child.lineno if isinstance(child, ast.stmt) else statement
        yield child, inner, begun
        yield from _nodes(child, inner, begun)


def _children(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.FunctionDef):
        yield from node.args.defaults
        yield from (default for default in node.args.kw_defaults if default is not None)
        yield from node.body
    elif isinstance(node, ast.ClassDef):
        yield from node.body
    elif isinstance(node, ast.AnnAssign):
        yield from [node.value] if node.value else []
    elif isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
        yield from node.orelse
    else:
        yield from ast.iter_child_nodes(node)


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _faults(node: ast.AST, source: str) -> Iterator[tuple[ast.expr | ast.stmt, str]]:
    """Faults of one node: the piece to replace, and what replaces it."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        left, right = _text(node.left, source), _text(node.comparators[0], source)
        yield from ((node, f"{left} {sign} {right}") for sign in _COMPARE[type(node.ops[0])])
    elif isinstance(node, ast.BinOp) and type(node.op) in _ARITHMETIC and not _of_text(node):
        sign = _ARITHMETIC[type(node.op)]
        yield node, f"({_text(node.left, source)}) {sign} ({_text(node.right, source)})"
    elif isinstance(node, ast.BoolOp):
        sign = " or " if isinstance(node.op, ast.And) else " and "
        yield node, sign.join(f"({_text(value, source)})" for value in node.values)
    elif isinstance(node, ast.UnaryOp):
        yield node, f"({_text(node.operand, source)})"
    elif isinstance(node, ast.Constant):
        yield from _other_constants(node)
    elif isinstance(node, ast.If | ast.IfExp | ast.While):
        if not isinstance(node.test, ast.Compare | ast.UnaryOp | ast.Constant):
            yield node.test, f"(not ({_text(node.test, source)}))"
    elif isinstance(node, ast.Call):
        yield from _calls(node, source)
    elif isinstance(node, ast.stmt):
        yield from _statements(node, source)


def _other_constants(node: ast.Constant) -> Iterator[tuple[ast.expr, str]]:
    """The other truth value, the next integer, or a tenth more."""
    if isinstance(node.value, bool):
        yield node, str(not node.value)
    elif isinstance(node.value, int):
        yield node, str(node.value + 1)
    elif isinstance(node.value, float):
        yield node, repr(node.value * 1.1 if node.value else 1.0)


def _calls(node: ast.Call, source: str) -> Iterator[tuple[ast.expr, str]]:
    """Arguments exchanged, and min for max."""
    name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
    head = _text(node.func, source)
    if name in _OTHER_NAME:
        yield node.func, head[: len(head) - len(name)] + _OTHER_NAME[name]
    first = [_text(each, source) for each in node.args[:2]]
    if len(first) == 2 and len(set(first)) == 2 and name not in _OTHER_NAME and name != "isinstance":
        rest = [_text(each, source) for each in node.args[2:]]
        yield node, f"{head}({', '.join([first[1], first[0], *rest, *_keywords(node, source)])})"
    keywords = [each for each in node.keywords if each.arg is not None]
    if len(keywords) > 1 and _text(keywords[0].value, source) != _text(keywords[1].value, source):
        swapped = {id(keywords[0]): keywords[1].value, id(keywords[1]): keywords[0].value}
        arguments = [_text(each, source) for each in node.args]
        arguments += [
            f"{each.arg}={_text(swapped.get(id(each), each.value), source)}"
            if each.arg
            else f"**{_text(each.value, source)}"
            for each in node.keywords
        ]
        yield node, f"{head}({', '.join(arguments)})"


def _keywords(node: ast.Call, source: str) -> list[str]:
    return [
        f"{each.arg}={_text(each.value, source)}" if each.arg else f"**{_text(each.value, source)}"
        for each in node.keywords
    ]


def _statements(node: ast.stmt, source: str) -> Iterator[tuple[ast.stmt, str]]:
    """Statements removed, or turned round; a bare name returned is lost."""
    if isinstance(node, ast.AugAssign):
        yield node, "pass"
        if type(node.op) in _ARITHMETIC:
            sign = _ARITHMETIC[type(node.op)]
            yield node, f"{_text(node.target, source)} {sign}= {_text(node.value, source)}"
    elif isinstance(node, ast.Expr | ast.Raise):
        yield node, "pass"
    elif isinstance(node, ast.Continue):
        yield node, "break"
    elif isinstance(node, ast.Break):
        yield node, "pass"
    elif isinstance(node, ast.Return) and isinstance(node.value, ast.Name | ast.Attribute):
        yield node, "return None"
    elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Subscript):
        yield node, "pass"


def _of_text(node: ast.BinOp) -> bool:
    """Whether a sum or a product is one of texts or lists, whose difference would only be a TypeError."""
    sides = (node.left, node.right)
    return any(
        isinstance(side, ast.JoinedStr | ast.List | ast.ListComp | ast.Tuple)
        or (isinstance(side, ast.Constant) and isinstance(side.value, str))
        or (isinstance(side, ast.BinOp) and _of_text(side))
        for side in sides
    )


def _text(node: ast.expr | ast.stmt, source: str) -> str:
    text = _segment(node, source)
    broken = "\n" in text and not isinstance(node, ast.Call | ast.Tuple)
    return f"({text})" if broken or isinstance(node, ast.NamedExpr) else text


def _segment(node: ast.expr | ast.stmt, source: str) -> str:
    """The text of a node; `ast.get_source_segment` would split the whole file each time."""
    lines = _lines(source)
    first, last = node.lineno - 1, (node.end_lineno or node.lineno) - 1
    if first == last:
        return lines[first][node.col_offset : node.end_col_offset].decode()
    pieces = [lines[first][node.col_offset :], *lines[first + 1 : last], lines[last][: node.end_col_offset]]
    return b"".join(pieces).decode()


@lru_cache(maxsize=4)
def _lines(source: str) -> list[bytes]:
    return source.encode().splitlines(keepends=True)


def _flat(text: str) -> str:
    return " ".join(text.split())
