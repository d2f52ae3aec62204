"""Which functions of the package the commands and the library use.

The call graph is read from the source: a function uses every name it mentions, resolved through the imports of its
module; a method is used where its class is and where an attribute of its name is mentioned. This errs toward
reached, never toward unreached, as long as nothing is looked up by a name composed at run time.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import locosim

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "locosim"

Node = tuple[str, str]  # module, name within it ("Class.method" for a method)
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)


class Module:
    """Names that a module defines and imports."""

    def __init__(self, name: str, tree: ast.Module) -> None:
        self.name = name
        self.defined: dict[str, list[ast.AST]] = {}
        self.methods: dict[str, dict[str, ast.AST]] = {}
        self.imported: dict[str, str] = {}
        self.statements: list[ast.AST] = []
        self._read(tree.body)
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom):
                for alias in node.names:
                    self.imported[alias.asname or alias.name] = f"{node.module}.{alias.name}"
            elif isinstance(node, ast.Import):
                for alias in node.names:
                    self.imported[alias.asname or alias.name.partition(".")[0]] = (
                        alias.name if alias.asname else alias.name.partition(".")[0]
                    )

    def _read(self, body: list[ast.stmt]) -> None:
        for node in body:
            if isinstance(node, FUNCTIONS):
                self.defined.setdefault(node.name, []).append(node)
            elif isinstance(node, ast.ClassDef):
                self._read_class(node)
            elif isinstance(node, ast.Assign | ast.AnnAssign | ast.AugAssign):
                self._read_assignment(node)
            elif isinstance(node, ast.If | ast.Try):
                for part in ("body", "orelse", "finalbody"):
                    self._read(getattr(node, part, []))
                for handler in getattr(node, "handlers", []):
                    self._read(handler.body)
            elif not isinstance(node, ast.Import | ast.ImportFrom):
                self.statements.append(node)

    def _read_class(self, node: ast.ClassDef) -> None:
        self.methods[node.name] = {each.name: each for each in node.body if isinstance(each, FUNCTIONS)}
        rest = [each for each in node.body if not isinstance(each, FUNCTIONS)]
        self.defined[node.name] = [*rest, *node.bases, *node.decorator_list]

    def _read_assignment(self, node: ast.Assign | ast.AnnAssign | ast.AugAssign) -> None:
        for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
            for name in ast.walk(target):
                if isinstance(name, ast.Name):
                    self.defined.setdefault(name.id, []).append(node)


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def modules() -> dict[str, Module]:
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        name = module_name(path)
        found[name] = Module(name, ast.parse(path.read_text(encoding="utf-8")))
    return found


def resolve(module: str, name: str) -> Node | str | None:
    """What a name means in a module: something defined in the package, one of its modules, or None."""
    known = modules()
    for _ in range(10):  # an import of an import
        if name in known[module].defined:
            return module, name
        target = known[module].imported.get(name)
        if target is None:
            return f"{module}.{name}" if f"{module}.{name}" in known else None
        if target in known:
            return target
        module, _, name = target.rpartition(".")
        if module not in known:
            return None
    raise AssertionError(f"{module}: import of {name} leads nowhere")


def mentions(module: str, tree: ast.AST) -> Iterator[Node | str]:
    """Everything of the package that a piece of code mentions; a text that begins with a dot is an attribute."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            found = resolve(module, node.id)
            if found is not None:
                yield found
        elif isinstance(node, ast.Attribute):
            owner = module_of(module, node.value)
            if owner is None:
                yield f".{node.attr}"
            else:
                found = resolve(owner, node.attr)
                if found is not None:
                    yield found


def module_of(module: str, tree: ast.expr) -> str | None:
    """The module an expression names, if it names one."""
    if isinstance(tree, ast.Name):
        found = resolve(module, tree.id)
    elif isinstance(tree, ast.Attribute):
        owner = module_of(module, tree.value)
        found = resolve(owner, tree.attr) if owner else None
    else:
        return None
    return found if isinstance(found, str) else None


def roots() -> Iterator[Node]:
    """Everything in the command line, and what the library exports."""
    for name, module in modules().items():
        if name.split(".")[1:2] == ["cli"]:
            yield from ((name, each) for each in module.defined)
    for name in getattr(locosim, "__all__", ()):
        exported = getattr(locosim, name)
        home = getattr(exported, "__module__", "")
        if home in modules() and exported.__name__ in modules()[home].defined:
            yield home, exported.__name__


class Walk:
    """A walk along the call graph from its roots."""

    def __init__(self) -> None:
        self.done: set[Node] = set()
        self._waiting = list(roots())
        self._modules_begun: set[str] = set()
        self._attributes: set[str] = set()
        self._methods_waiting: dict[str, list[Node]] = {}

    def run(self) -> frozenset[Node]:
        while self._waiting:
            node = self._waiting.pop()
            if node not in self.done:
                self.done.add(node)
                self._visit(*node)
        return frozenset(self.done)

    def _visit(self, name: str, inner: str) -> None:
        module = modules()[name]
        if name not in self._modules_begun:  # statements that run when it is imported
            self._modules_begun.add(name)
            for statement in module.statements:
                self._follow(name, statement)
        owner, _, method = inner.partition(".")
        if method:
            self._follow(name, module.methods[owner][method])
            return
        for tree in module.defined[inner]:
            self._follow(name, tree)
        for each in module.methods.get(inner, {}):
            if each.startswith("__") or each in self._attributes:
                self._waiting.append((name, f"{inner}.{each}"))
            else:
                self._methods_waiting.setdefault(each, []).append((name, f"{inner}.{each}"))

    def _follow(self, module: str, tree: ast.AST) -> None:
        for found in mentions(module, tree):
            if isinstance(found, tuple):
                self._waiting.append(found)
            elif found.startswith(".") and found[1:] not in self._attributes:
                self._attributes.add(found[1:])
                self._waiting.extend(self._methods_waiting.pop(found[1:], ()))


@cache
def reached() -> frozenset[Node]:
    """Everything that the commands and the library use."""
    return Walk().run()


def is_function(node: Node) -> bool:
    """Whether a node is a function, rather than a class, table or number."""
    name, inner = node
    return any(isinstance(each, FUNCTIONS) for each in modules()[name].defined.get(inner, ()))


def physics_functions() -> list[Node]:
    """Every function and method of the physics."""
    found = []
    for name, module in modules().items():
        if name.startswith("locosim.physics"):
            found += [
                (name, each)
                for each, trees in module.defined.items()
                if any(isinstance(t, FUNCTIONS) for t in trees)
            ]
            found += [
                (name, f"{owner}.{each}") for owner, methods in module.methods.items() for each in methods
            ]
    return found


def unreached() -> list[str]:
    """Physics functions that neither the commands nor the library use, as `room.module:function`."""
    return sorted(
        f"{name.removeprefix('locosim.physics.')}:{inner}"
        for name, inner in physics_functions()
        if (name, inner) not in reached()
    )


def used_by(module: Path, function: str) -> set[Node]:
    """What a function of a test module uses of the package, directly or through others in that module."""
    key = f"tests:{module.stem}"
    source = Module(key, ast.parse(module.read_text(encoding="utf-8")))
    modules()[key] = source
    try:
        found: set[Node] = set()
        waiting, done = [function], set()
        while waiting:
            name = waiting.pop()
            done.add(name)
            for tree in source.defined[name]:
                for each in mentions(key, tree):
                    if isinstance(each, tuple) and each[0] == key:
                        waiting += [each[1]] if each[1] not in done else []
                    elif isinstance(each, tuple):
                        found.add(each)
        return found
    finally:
        del modules()[key]
