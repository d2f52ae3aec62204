"""Functions and results for one or two inputs that are varied."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from locosim.errors import OutOfRange, suggestion
from locosim.library.quantities import Quantity, quantity
from locosim.library.table import Column, Result
from locosim.report.text.vary import heading, one_line
from locosim.report.vary_table import heading_of_input
from locosim.studies.engine_figures import EngineConditions
from locosim.studies.varied_rows import CONDITIONS, VariedRow
from locosim.studies.vary import Variation
from locosim.studies.vary import vary as compute_variation


class VaryResult(Result[Variation]):
    """What comes of one or two inputs that are varied: a row for each combination."""

    command = "vary"

    @property
    def rows(self) -> tuple[VariedRow, ...]:
        """Rows, the last input fastest, in SI."""
        return self.content.rows

    def title(self) -> str:
        """What is varied, in a line."""
        return heading(self.content)

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.method

    def columns(self) -> Sequence[Column]:
        """The inputs, in the unit they were written in, then the columns asked for, and the problem of the row."""
        inputs = [
            Column(heading_of_input(self.content, i), None, [row.numbers[i] for row in self.rows])
            for i in range(len(self.content.inputs))
        ]
        results = [
            Column(column.name, column.kind, self.content.column_values(i))
            for i, column in enumerate(self.content.columns)
        ]
        return [*inputs, *results, Column("problem", None, [one_line(row.problem) for row in self.rows])]


def vary(
    path: str | Path,
    *inputs: str,
    columns: Sequence[str] = (),
    changes: Sequence[str] = (),
    conditions: Mapping[str, Quantity] | None = None,
    jobs: int = 1,
) -> VaryResult:
    """Vary one or two inputs of an excursion or an engine.

    Args:
        path: The excursion or engine file.
        inputs: One or two, each a key with its values, as of a change: `"rail=dry,wet"`,
            `"train.vehicles[1].count=4:12"` or `"boiler.working_pressure_gauge=180:220:10 psi"`. For an engine file
            also `speed`, `cutoff`, `throttle`, `rail`, `fuel` and `heating_value`.
        columns: What to show, such as `"verdict"`, `"margin:steam"` or `"indicated power"`; the usual columns if
            left out.
        changes: Changes to every row, as `key=value`.
        conditions: Of an engine file, those of the same names that are not varied, as texts with their units or
            numbers in SI, and `method`; 30 mph and dry rail where left out.
        jobs: Number of processes. More than one needs the call to be under `if __name__ == "__main__":` in a script.

    Raises:
        ScenarioError: The file cannot be read, or a change is wrong.
        UnitError: A condition without a unit that fits.
        LocosimError: An input, a column or a condition that is not known. A row that cannot be computed keeps its
            problem.
    """
    setup = None if conditions is None else engine_conditions(conditions)
    found = compute_variation(path, inputs, columns=columns, changes=changes, conditions=setup, jobs=jobs)
    return VaryResult(found)


def engine_conditions(given: Mapping[str, Quantity]) -> EngineConditions:
    """Conditions of an engine by name, from texts with units or numbers in SI.

    Raises:
        UnitError: A quantity without a unit that fits.
        OutOfRange: A name that is not known.
    """
    values: dict[str, Any] = {}
    for name, value in given.items():
        if name not in CONDITIONS and name != "method":
            raise OutOfRange(f"condition {name!r} is not known; {suggestion(name, [*CONDITIONS, 'method'])}")
        kind = CONDITIONS.get(name)
        measured = kind is not None and kind.kind == "measure"
        if kind is not None and kind.options and value not in kind.options:
            raise OutOfRange(f"{name}: found {value!r}; {suggestion(str(value), kind.options)}")
        values[name] = quantity(value, kind.unit, name) if kind is not None and measured else value
    return EngineConditions(**values)
