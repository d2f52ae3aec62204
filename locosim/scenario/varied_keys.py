"""The keys that are varied in a file: what kind of input each is, found before anything is computed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from locosim.errors import LocosimError, Problem, ScenarioError
from locosim.frozen import frozen
from locosim.model import Assumptions, Excursion, Locomotive
from locosim.scenario.build import kind_of_file
from locosim.scenario.overrides import apply_change, key_at
from locosim.scenario.schema import Key, keys_of, unknown_key_advice
from locosim.scenario.source import Table, read_toml
from locosim.scenario.varied_input import InputKind, VariedInput, read_varied_input

MAX_INPUTS = 2
_ASSUMPTION = "assumptions."


@frozen
class VariedFile:
    """A file with its inputs that are varied.

    Attributes:
        model: What the file describes: `Excursion` or `Locomotive`.
        inputs: One or two inputs.
    """

    model: type
    inputs: tuple[VariedInput, ...]


def read_varied_file(
    path: str | Path, inputs: Sequence[str], *, changes: Sequence[str], conditions: Mapping[str, InputKind]
) -> VariedFile:
    """Read what is varied in an excursion or engine file.

    Args:
        path: The file.
        inputs: One or two inputs, as `locosim.scenario.varied_input.read_varied_input` reads them.
        changes: Changes made before, as `key=value`; a change may name another file.
        conditions: Conditions of an engine that are no keys of its file, such as the speed, by name.

    Raises:
        ScenarioError: The file cannot be read, is another kind of file, or a change is wrong.
        LocosimError: An input is wrong, or there are none, more than two, or two of one key.
    """
    root, model = read_root(path)
    problems: list[Problem] = []
    for change in changes:
        if model is Excursion or not change.strip().startswith(_ASSUMPTION):
            apply_change(change, root, model, problems)
    if problems:
        raise ScenarioError(str(path), problems)
    if not 1 <= len(inputs) <= MAX_INPUTS:
        raise LocosimError(f"found {len(inputs)} inputs; vary one or two at a time, as key=values")

    def kind_of(key: str) -> InputKind:
        if model is Locomotive and key in conditions:
            return conditions[key]
        if model is Locomotive and key.startswith(_ASSUMPTION):
            return _kind(_assumption(key))
        return _kind(_key(key, root, model, conditions))

    read = tuple(read_varied_input(text, kind_of) for text in inputs)
    if len({each.path.replace(" ", "") for each in read}) < len(read):
        raise LocosimError(f"{read[0].path} is varied twice; write one input with all its values")
    return VariedFile(model=model, inputs=read)


def read_root(path: str | Path) -> tuple[Table, type]:
    """The tree of a file, and what it describes: `Excursion` or `Locomotive`.

    Raises:
        ScenarioError: It cannot be read, or is another kind of file.
    """
    try:
        root = read_toml(Path(path))
        model, name = kind_of_file(root)
        if model not in (Excursion, Locomotive):
            raise LocosimError(f"looks like {name}, but an excursion or an engine is expected here")
    except LocosimError as error:
        raise ScenarioError(str(path), [Problem("", str(error))]) from None
    return root, model


def _key(path: str, root: Table, model: type, conditions: Mapping[str, InputKind]) -> Key:
    """A key of the file or of a file it names."""
    problems: list[Problem] = []
    try:
        return key_at(path, root, model, problems)
    except LocosimError as error:
        if model is Locomotive and "." not in path:
            raise LocosimError(
                f"{error}; conditions that are no keys of the file are {', '.join(conditions)}"
            ) from None
        raise LocosimError("; ".join(dict.fromkeys([str(error), *map(str, problems)]))) from None


def _assumption(path: str) -> Key:
    """An assumption, which an engine file has no key for."""
    name, keys = path.removeprefix(_ASSUMPTION).strip(), keys_of(Assumptions)
    if name not in keys:
        raise LocosimError(f"unknown assumption {name!r}; {unknown_key_advice(Assumptions, name, keys)}")
    return keys[name]


def _kind(key: Key) -> InputKind:
    """What kind of input a key is."""
    if key.kind == "text_list":
        raise LocosimError(f"{key.name!r} is a list of texts, which cannot be varied")
    if key.kind in ("table", "table_list", "text"):
        return InputKind("text", options=key.options)
    return InputKind("integer") if key.kind == "integer" else InputKind("measure", unit=key.unit)
