"""One or two inputs of an excursion or an engine over ranges and lists, and what comes of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import product
from pathlib import Path

from locosim.errors import OutOfRange
from locosim.frozen import frozen
from locosim.model import Assumptions, Excursion, Locomotive
from locosim.scenario.varied_input import VariedInput as VariedInput
from locosim.scenario.varied_keys import read_root, read_varied_file
from locosim.studies.engine_columns import (
    AT_CUTOFF,
    DEFAULT_COLUMNS,
    DEFAULT_CUTOFF_COLUMNS,
    ENGINE_COLUMNS,
    EngineColumn,
)
from locosim.studies.engine_figures import EngineConditions
from locosim.studies.result_columns import ResultColumn, Value, known_columns
from locosim.studies.varied_rows import CONDITIONS, EngineRows, ExcursionRows, empty_row
from locosim.studies.varied_rows import VariedRow as VariedRow
from locosim.studies.workers import CHUNK, run_each, usable_cores

MAX_ROWS = 10_000
DEFAULT_CHECK_COLUMNS = ("verdict", "margin", "rule", "time", "water", "fuel")
# About how many seconds of one core a row takes, without and with a new map, and how many it takes to start workers;
# they decide how many cores are used, and no result.
ROW_TIME, MAP_ROW_TIME, START_TIME = 0.03, 2.0, 2.0

AnyColumn = ResultColumn | EngineColumn


@frozen(eq=False)
class Variation:
    """One or two inputs over their values.

    Attributes:
        base: The excursion or the engine as it is where nothing is varied.
        inputs: What is varied; the last one fastest.
        columns: What is shown.
        rows: A row for each combination.
        conditions: Under what an engine alone is computed; None for an excursion.
        assumptions: Assumed figures, where they are not varied.
    """

    base: Excursion | Locomotive
    inputs: tuple[VariedInput, ...]
    columns: tuple[AnyColumn, ...]
    rows: tuple[VariedRow, ...]
    conditions: EngineConditions | None
    assumptions: Assumptions

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        if isinstance(self.base, Excursion):
            return self.base.method
        return "cycle" if self.conditions is None else self.conditions.method

    def column_values(self, number: int) -> list[Value]:
        """Values of a column by its number from 0, row by row; None in rows with a problem."""
        return [None if row.problem else row.values[number] for row in self.rows]


def vary(
    path: str | Path,
    inputs: Sequence[str],
    *,
    columns: Sequence[str] = (),
    changes: Sequence[str] = (),
    conditions: EngineConditions | None = None,
    jobs: int | None = None,
    report: Callable[[int, int], None] | None = None,
) -> Variation:
    """Vary one or two inputs of an excursion or an engine file.

    A row that cannot be computed keeps its problem, and the rest goes on. A row of an excursion is the same check as
    that with the row's changes alone.

    Args:
        path: The excursion or engine file.
        inputs: One or two inputs, each `key=values` as in `locosim.scenario.varied_input.read_varied_input`; for an
            engine also one of `CONDITIONS`.
        columns: Names of `result_columns` or `engine_columns`; the usual ones if omitted.
        changes: Changes made to every row, as `key=value`.
        conditions: Speed, cutoff, rail and fuel of an engine alone.
        jobs: Number of processes; None for as many as pay.
        report: Called after each row with the number of rows computed, and of all.

    Raises:
        ScenarioError: The file cannot be read, or a change is wrong.
        LocosimError: An input or a column is wrong, there are too many rows, or conditions of an engine are given for
            an excursion.
    """
    read = read_varied_file(path, inputs, changes=changes, conditions=CONDITIONS)
    rows = list(product(*(range(len(each.texts)) for each in read.inputs)))
    if len(rows) > MAX_ROWS:
        raise OutOfRange(f"{len(rows):,} rows, at most {MAX_ROWS:,} are allowed; write larger steps")
    study: ExcursionRows | EngineRows
    if read.model is Excursion:
        if conditions is not None:
            raise OutOfRange(
                f"{path}: is an excursion; speed, cutoff, throttle, rail, fuel, heating value and method are options "
                "of an engine file alone; change a key of the excursion instead, such as rail=wet"
            )
        study = ExcursionRows(str(path), tuple(changes), read.inputs, tuple(columns) or DEFAULT_CHECK_COLUMNS)
    else:
        setup = conditions or EngineConditions()
        study = EngineRows(
            str(path), tuple(changes), read.inputs, _engine_column_names(columns, read.inputs, setup), setup
        )
    base, assumptions = study.base()
    return Variation(
        base=base,
        inputs=read.inputs,
        columns=study.columns(),
        rows=tuple(_rows(study, rows, jobs, report)),
        conditions=None if isinstance(study, ExcursionRows) else study.conditions,
        assumptions=assumptions,
    )


def columns_of(path: str | Path) -> tuple[tuple[str, str], ...]:
    """Names of the columns that a file has, each with what it is.

    Raises:
        ScenarioError: The file cannot be read, or is neither an excursion nor an engine.
    """
    if read_root(path)[1] is Excursion:
        return known_columns()
    return tuple((column.name, column.meaning) for column in ENGINE_COLUMNS.values())


def _engine_column_names(
    columns: Sequence[str], inputs: Sequence[VariedInput], conditions: EngineConditions
) -> tuple[str, ...]:
    """Columns of an engine: those asked for, or the usual ones, at a cutoff where there is one.

    Raises:
        OutOfRange: A column needs a cutoff, and none is given.
    """
    at_cutoff = conditions.cutoff is not None or any(each.path == "cutoff" for each in inputs)
    if not columns:
        return DEFAULT_CUTOFF_COLUMNS if at_cutoff else DEFAULT_COLUMNS
    if not at_cutoff and (wanting := [name for name in columns if name in AT_CUTOFF]):
        raise OutOfRange(
            f'column {wanting[0]!r} needs a cutoff; give one, such as 30 %, or vary it as "cutoff=20:50:5 %"'
        )
    return tuple(columns)


def input_label(each: VariedInput, others: Sequence[VariedInput] = ()) -> str:
    """Name of an input in plain words: the last part of its path, or the whole path where another has the same."""
    last = each.path.rpartition(".")[2]
    alike = any(other is not each and other.path.rpartition(".")[2] == last for other in others)
    return each.path if alike else last.replace("_", " ")


def fixed_conditions(variation: Variation) -> tuple[tuple[str, tuple[float, str] | None], ...]:
    """Conditions of an engine that are not varied: a name, and a value in SI with its kind; none for an excursion."""
    conditions = variation.conditions
    if conditions is None:
        return ()
    value, cutoff = conditions.heating_value, conditions.cutoff
    found: dict[str, tuple[str, tuple[float, str] | None] | None] = {
        "speed": ("", (conditions.speed, "speed")),
        "cutoff": None if cutoff is None else ("cutoff", (cutoff, "ratio")),
        "throttle": None if conditions.throttle == 1.0 else ("throttle", (conditions.throttle, "ratio")),
        "rail": (f"{conditions.rail} rail", None),
        "fuel": None if conditions.fuel is None else (conditions.fuel, None),
        "heating_value": None if value is None else ("", (value, "heating_value")),
    }
    varied = {each.path for each in variation.inputs}
    return tuple(each for name, each in found.items() if each is not None and name not in varied)


def _rows(
    study: ExcursionRows | EngineRows,
    places: Sequence[tuple[int, ...]],
    jobs: int | None,
    report: Callable[[int, int], None] | None,
) -> Iterator[VariedRow]:
    """All rows in order; one that cannot be computed has its problem."""
    chunk = 1 if study.new_maps() else CHUNK
    outcomes = run_each(study, places, jobs=jobs or _paying_jobs(study, len(places)), chunk=chunk)
    for count, (at, outcome) in enumerate(zip(places, outcomes, strict=True), start=1):
        if report is not None:
            report(count, len(places))
        yield outcome.value or empty_row(study.inputs, at, outcome.problem)


def _paying_jobs(study: ExcursionRows | EngineRows, rows: int) -> int:
    """As many processes as save time: one for a few rows."""
    cores = usable_cores()
    work = rows * (MAP_ROW_TIME if study.new_maps() else ROW_TIME)
    return cores if work * (1.0 - 1.0 / cores) > START_TIME else 1
