"""Rows of a variation: each is the check of an excursion, or the figures of an engine, with its changes made."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from locosim.frozen import frozen
from locosim.loading import load_engine, load_excursion
from locosim.model import Assumptions, Excursion, Locomotive
from locosim.model.provenance import FileUsed
from locosim.physics.boiler.fuels import FUELS
from locosim.physics.traction.rail_conditions import ADHESION_BY_RAIL_CONDITION
from locosim.planning.bands import deciding_assumptions, with_bands
from locosim.planning.check import run_and_check
from locosim.scenario import split_assumption_changes
from locosim.scenario.varied_input import InputKind
from locosim.scenario.varied_input import VariedInput as VariedInput
from locosim.studies.cases import Case, CaseReader
from locosim.studies.engine_columns import FROM_MAP, EngineColumn, engine_columns
from locosim.studies.engine_figures import EngineConditions, EngineFigures
from locosim.studies.result_columns import ResultColumn, Value, result_columns

# Conditions of an engine that are no keys of its file, and can be varied like one.
CONDITIONS: dict[str, InputKind] = {
    "speed": InputKind("measure", "m/s"),
    "cutoff": InputKind("measure"),
    "throttle": InputKind("measure"),
    "rail": InputKind("text", options=tuple(ADHESION_BY_RAIL_CONDITION)),
    "fuel": InputKind("text", options=tuple(FUELS)),
    "heating_value": InputKind("measure", "J/kg"),
}


@frozen
class VariedRow:
    """What came of one combination of the inputs.

    Attributes:
        changes: The change of each input, `key=value`.
        numbers: The value of each input, as a number in the unit of the input or as a text.
        values: A value for each column, in SI; None where there is none.
        verdict: Verdict of the check; None for an engine alone, or where it was not made.
        assumptions: Assumptions within whose range the verdict may be another one.
        engine: Name of its engine; empty where there are no values.
        files: Files it was read from, with their hashes.
        problem: Why there are no values; empty where there are.
    """

    changes: tuple[str, ...]
    numbers: tuple[float | str, ...]
    values: tuple[Value, ...] = ()
    verdict: str | None = None
    assumptions: tuple[str, ...] = ()
    engine: str = ""
    files: tuple[FileUsed, ...] = ()
    problem: str = ""


@dataclass
class ExcursionRows:
    """Computes rows of an excursion file; one is made for each process, which reads each file once."""

    path: str
    changes: tuple[str, ...]
    inputs: tuple[VariedInput, ...]
    names: tuple[str, ...]
    _reader: CaseReader | None = field(default=None, init=False, repr=False)

    def __getstate__(self) -> dict[str, Any]:
        """State for another process, which reads the files itself."""
        return {**self.__dict__, "_reader": None}

    def columns(self) -> tuple[ResultColumn, ...]:
        """What is shown."""
        return result_columns(self.names)

    def base(self) -> tuple[Excursion, Assumptions]:
        """The excursion where nothing is varied."""
        excursion = load_excursion(self.path, changes=self.changes)
        return excursion, excursion.assumptions

    def __call__(self, at: tuple[int, ...]) -> VariedRow:
        """The row at a value of each input."""
        if self._reader is None:
            self._reader = CaseReader()
        row = empty_row(self.inputs, at)
        case = Case(excursion=self.path, changes=(*self.changes, *row.changes))
        excursion = self._reader.excursion(case)
        check = with_bands(run_and_check(excursion))
        return replace(
            row,
            values=tuple(_finite(column.value(check)) for column in self.columns()),
            verdict=check.verdict,
            assumptions=deciding_assumptions(check),
            engine=excursion.locomotive.name,
            files=_files(excursion),
        )

    def new_maps(self) -> bool:
        """Whether a row needs a map of the engine that may not be stored."""
        return any(each.path.startswith(("locomotive", "helpers")) for each in self.inputs)


@dataclass
class EngineRows:
    """Computes rows of an engine file."""

    path: str
    changes: tuple[str, ...]
    inputs: tuple[VariedInput, ...]
    names: tuple[str, ...]
    conditions: EngineConditions

    def columns(self) -> tuple[EngineColumn, ...]:
        """What is shown."""
        return engine_columns(self.names)

    def base(self) -> tuple[Locomotive, Assumptions]:
        """The engine where nothing is varied."""
        assumptions, rest = split_assumption_changes(self.changes)
        return load_engine(self.path, changes=rest), assumptions

    def __call__(self, at: tuple[int, ...]) -> VariedRow:
        """The row at a value of each input."""
        row = empty_row(self.inputs, at)
        pairs = list(zip(self.inputs, at, strict=True))
        varied: dict[str, Any] = {each.path: each.values[i] for each, i in pairs if each.path in CONDITIONS}
        changed = [each.changes[i] for each, i in pairs if each.path not in CONDITIONS]
        assumptions, rest = split_assumption_changes([*self.changes, *changed])
        engine = load_engine(self.path, changes=rest)
        figures = EngineFigures(engine, replace(self.conditions, **varied), assumptions)
        return replace(
            row,
            values=tuple(_finite(column.value(figures)) for column in self.columns()),
            engine=engine.name,
            files=_files(engine),
        )

    def new_maps(self) -> bool:
        """Whether a row needs a map of the engine that may not be stored."""
        keys = [each.path for each in self.inputs if each.path not in CONDITIONS]
        return bool(keys) and not FROM_MAP.isdisjoint(self.names)


def _finite(value: Value) -> Value:
    """The value; None where it is not finite, such as the margin of a rule that no effort meets."""
    return value if not isinstance(value, float) or math.isfinite(value) else None


def _files(described: Excursion | Locomotive) -> tuple[FileUsed, ...]:
    return () if described.provenance is None else described.provenance.files


def empty_row(inputs: Sequence[VariedInput], at: tuple[int, ...], problem: str = "") -> VariedRow:
    """The row at a value of each input, without values."""
    pairs = list(zip(inputs, at, strict=True))
    return VariedRow(
        changes=tuple(each.changes[i] for each, i in pairs),
        numbers=tuple(each.texts[i] if each.numbers is None else each.numbers[i] for each, i in pairs),
        problem=problem,
    )
