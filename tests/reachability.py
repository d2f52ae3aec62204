"""Which functions of the package the commands and the library come to.

The call graph is read from the source: a function uses every name it mentions, resolved through the imports of its
module; a method is used where its class is and where an attribute of its name is mentioned. This errs to the side of
reached, never to that of unreached, as long as nothing is looked up by a name put together at run time.
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
                self.methods[node.name] = {
                    each.name: each for each in node.body if isinstance(each, FUNCTIONS)
                }
                rest = [each for each in node.body if not isinstance(each, FUNCTIONS)]
                self.defined[node.name] = [*rest, *node.bases, *node.decorator_list]
            elif isinstance(node, ast.Assign | ast.AnnAssign | ast.AugAssign):
                targets = node.targets if isinstance(node, ast.Assign) else [node.target]
                for target in targets:
                    for name in ast.walk(target):
                        if isinstance(name, ast.Name):
                            self.defined.setdefault(name.id, []).append(node)
            elif isinstance(node, ast.If | ast.Try):
                for part in ("body", "orelse", "finalbody"):
                    self._read(getattr(node, part, []))
                for handler in getattr(node, "handlers", []):
                    self._read(handler.body)
            elif not isinstance(node, ast.Import | ast.ImportFrom):
                self.statements.append(node)


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
    """Everything of the package a piece of code mentions; a text is an attribute of whatever it stands behind."""
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
    """All of the command line, and what the library exports."""
    for name, module in modules().items():
        if name.split(".")[1:2] == ["cli"]:
            yield from ((name, each) for each in module.defined)
    for name in getattr(locosim, "__all__", ()):
        exported = getattr(locosim, name)
        home = getattr(exported, "__module__", "")
        if home in modules() and exported.__name__ in modules()[home].defined:
            yield home, exported.__name__


@cache
def reached() -> frozenset[Node]:
    """Everything the commands and the library can come to."""
    known = modules()
    done: set[Node] = set()
    started: set[str] = set()
    attributes: set[str] = set()
    waiting_methods: dict[str, list[Node]] = {}
    waiting = list(roots())

    def follow(module: str, tree: ast.AST) -> None:
        for found in mentions(module, tree):
            if isinstance(found, tuple):
                waiting.append(found)
            elif found.startswith(".") and found[1:] not in attributes:
                attributes.add(found[1:])
                waiting.extend(waiting_methods.pop(found[1:], ()))

    while waiting:
        node = waiting.pop()
        if node in done:
            continue
        done.add(node)
        name, inner = node
        module = known[name]
        if name not in started:
            started.add(name)
            for statement in module.statements:
                follow(name, statement)
        owner, _, method = inner.partition(".")
        if method:
            follow(name, module.methods[owner][method])
            continue
        for tree in module.defined[inner]:
            follow(name, tree)
        for each in module.methods.get(inner, {}):
            if each.startswith("__") or each in attributes:
                waiting.append((name, f"{inner}.{each}"))
            else:
                waiting_methods.setdefault(each, []).append((name, f"{inner}.{each}"))
    return frozenset(done)


def is_function(node: Node) -> bool:
    """Whether a node is a function, and no class, table or number."""
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
    """Physics functions that no command and nothing of the library comes to, as `room.module:function`."""
    return sorted(
        f"{name.removeprefix('locosim.physics.')}:{inner}"
        for name, inner in physics_functions()
        if (name, inner) not in reached()
    )


def used_by(module: Path, function: str) -> set[Node]:
    """What a function of a test module uses of the package, directly or through others of that module."""
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
