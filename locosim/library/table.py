"""Tables and results: rows with a unit in each heading, for Python, pandas, notebooks and files."""

from __future__ import annotations

import importlib
import io
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Generic, TypeVar

from locosim.engine.accuracy import Band
from locosim.errors import LocosimError, OutputExists
from locosim.frozen import frozen
from locosim.rendering import RENDERERS, file_content, renderer
from locosim.report.accuracy import accuracy
from locosim.report.caution import CAUTION
from locosim.report.csv_cells import TableWriter
from locosim.report.made_from import MadeFrom, made_from, source_columns
from locosim.report.output_files import CSV_SUFFIXES, HTML_SUFFIXES, IMAGE_SUFFIXES, check_writable, write
from locosim.units import label, number, scale, show_number, unit_system

if TYPE_CHECKING:
    from locosim.plot.figure import Figure
    from locosim.report.made_from import Result as Made

T = TypeVar("T", bound="Made")  # what the renderers of a command take

DEFAULT_UNITS = "metric"
_SECONDS = ("time", "clock")  # kinds shown as h:min:s, and given as numbers in seconds
_OFFSET = ("temperature",)  # kinds that no factor alone converts


@frozen(kw_only=False)
class Column:
    """A column of a table.

    Attributes:
        name: Heading, without unit.
        kind: Kind of quantity, with values in SI; None for texts and for numbers that are not converted.
        values: One for each row; None where there is none.
    """

    name: str
    kind: str | None
    values: Sequence[Any]


def column(name: str, kind: str | None, rows: Iterable[Any], value: Callable[[Any], Any]) -> Column:
    """Column of one value of each row."""
    return Column(name, kind, [value(row) for row in rows])


def unit_of(kind: str) -> str:
    """Unit of the numbers that `as_number` gives, in the system of units in force."""
    if kind in _SECONDS:
        return "s"
    return label(kind) if kind in _OFFSET else scale(kind)[1]


def as_number(value: float, kind: str) -> float:
    """Convert a value from SI to the system of units in force: times in s, the sharpness of curves as radius."""
    if kind in _SECONDS:
        return float(value)
    return float(number(value, kind)) if kind in _OFFSET else float(value) * scale(kind)[0]


class Table(ABC):
    """Rows of named quantities, converted to the units of the reader."""

    @abstractmethod
    def title(self) -> str:
        """One line that names the table, in the system of units in force."""

    @abstractmethod
    def columns(self) -> Sequence[Column]:
        """Columns, values in SI; texts in them are in the system of units in force."""

    def to_rows(self, units: str = DEFAULT_UNITS) -> list[dict[str, Any]]:
        """Convert the table to a list of dictionaries, one for each row.

        Args:
            units: `us`, `metric` or `british`.

        Returns:
            For each row a value by heading; the heading names the unit, as in `speed [km/h]`. Times are in s, and
            None is a value that does not exist.

        Raises:
            UnitError: Units that are not known.
        """
        with unit_system(units):
            columns = self.columns()
            headings = [_heading(each) for each in columns]
            values = [[_converted(value, each.kind) for value in each.values] for each in columns]
        return [dict(zip(headings, row, strict=True)) for row in zip(*values, strict=True)]

    def to_pandas(self, units: str = DEFAULT_UNITS) -> Any:
        """Convert the table to a `pandas.DataFrame`, with the headings of `to_rows`.

        Args:
            units: `us`, `metric` or `british`.

        Raises:
            LocosimError: pandas is not installed.
            UnitError: Units that are not known.
        """
        try:
            pandas = importlib.import_module("pandas")
        except ImportError as missing:
            raise LocosimError(
                "to_pandas needs pandas, which is not installed; install it with `pip install pandas`, or use to_rows"
            ) from missing
        with unit_system(units):
            headings = [_heading(each) for each in self.columns()]
        return pandas.DataFrame(self.to_rows(units), columns=headings)

    def _repr_html_(self) -> str:
        """Table for a notebook, with the caution."""
        with unit_system(DEFAULT_UNITS):
            columns, title = self.columns(), self.title()
            head = "".join(f"<th>{escape(_shown_heading(each))}</th>" for each in columns)
            cells = [[_shown(value, each.kind) for value in each.values] for each in columns]
        rows = "".join(
            f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>"
            for row in zip(*cells, strict=True)
        )
        return (
            f"<table><caption>{escape(title)}</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
            f"<p><small>{escape(CAUTION)}</small></p>"
        )

    def __repr__(self) -> str:
        """Title and size of the table."""
        with unit_system(DEFAULT_UNITS):
            return f"<{type(self).__name__}: {self.title()}; {len(self)} rows>"

    def __len__(self) -> int:
        """Count of rows."""
        return len(self.columns()[0].values)


@frozen(kw_only=False, eq=False)
class Result(Table, Generic[T]):
    """A table with the text, JSON and pictures of the command that prints it.

    Attributes:
        content: What was computed, in SI.
    """

    command: ClassVar[str]
    content: T

    @property
    @abstractmethod
    def method(self) -> str | None:
        """Method of computing the engine, `cycle` or `handbook`; None where no engine is computed."""

    @property
    def made_from(self) -> MadeFrom:
        """Version, engines, train, route, files with their hashes, changes and changed assumptions."""
        return made_from(self.content)

    @property
    def accuracy(self) -> dict[str, Band]:
        """Bands of the figures, by what they are: share of tests outside the fit, and how many there are."""
        return accuracy(self.command, self.method, self.made_from)

    def text(self, units: str = DEFAULT_UNITS) -> str:
        """Text as the command prints it.

        Args:
            units: `us`, `metric` or `british`.

        Raises:
            UnitError: Units that are not known.
        """
        with unit_system(units):
            return str(renderer(self.command, "text")(self.content))

    def json(self) -> str:
        """JSON in SI as the command writes it."""
        return str(renderer(self.command, "json")(self.content))

    def csv(self, units: str = DEFAULT_UNITS) -> str:
        """Rows for a spreadsheet; what they were made from is in columns at the right, in the first row."""
        if "csv" in RENDERERS[self.command]:
            with unit_system(units):
                return str(renderer(self.command, "csv")(self.content))
        with unit_system(units):
            headings, title = [_heading(each) for each in self.columns()], self.title()
        source = {"result": title, **source_columns(self.made_from, "", self.method)}
        del source["excursion"]  # the title names it
        out = io.StringIO()
        writer = TableWriter(out)
        writer.writerow([*headings, *source])
        for number_of_row, row in enumerate(self.to_rows(units)):
            notes = source.values() if number_of_row == 0 else [""] * len(source)
            writer.writerow([*map(_cell, row.values()), *notes])
        return out.getvalue()

    def plot(
        self, path: str | Path | None = None, *, units: str = DEFAULT_UNITS, overwrite: bool = False
    ) -> Figure:
        """Draw the result, and write the picture where a path is given.

        Args:
            path: File to write, ending in .png, .svg or .pdf.
            units: `us`, `metric` or `british`.
            overwrite: Replace a file that exists.

        Returns:
            The matplotlib figure.

        Raises:
            OutputExists: The file exists and `overwrite` is not set.
            LocosimError: The file cannot be written.
            UnitError: Units that are not known.
        """
        if path is not None:
            _check_path(Path(path), IMAGE_SUFFIXES, overwrite=overwrite)
            self.save(path, units=units, overwrite=overwrite)
        with unit_system(units):
            figure: Figure = renderer(self.command, "plot")(self.content)
        return figure

    def save(self, path: str | Path, *, units: str = DEFAULT_UNITS, overwrite: bool = False) -> None:
        """Write the result to a file; the ending of its name decides what is written.

        Args:
            path: The file: .json, .csv, .txt, a picture as .png, .svg or .pdf, and for a check .html.
            units: `us`, `metric` or `british`; JSON is always in SI.
            overwrite: Replace a file that exists.

        Raises:
            OutputExists: The file exists and `overwrite` is not set.
            LocosimError: Another ending, or the file cannot be written.
            UnitError: Units that are not known.
        """
        file = Path(path)
        _check_path(file, self._suffixes(), overwrite=overwrite)
        write(file, self._file_content(file.suffix.lower(), units), force=overwrite)

    def _suffixes(self) -> tuple[str, ...]:
        pages = HTML_SUFFIXES if "html" in RENDERERS[self.command] else ()
        return (*pages, ".json", *CSV_SUFFIXES, ".txt", *IMAGE_SUFFIXES)

    def _file_content(self, suffix: str, units: str) -> bytes:
        if suffix in CSV_SUFFIXES:
            return self.csv(units).encode()
        if suffix in (".json", ".txt"):
            return f"{self.json() if suffix == '.json' else self.text(units)}\n".encode()
        with unit_system(units):
            return file_content(
                self.command, "plot" if suffix in IMAGE_SUFFIXES else "html", self.content, suffix
            )


def _heading(each: Column) -> str:
    return f"{each.name} [{unit}]" if each.kind and (unit := unit_of(each.kind)) else each.name


def _converted(value: Any, kind: str | None) -> Any:
    return value if value is None or kind is None else as_number(value, kind)


def _shown_heading(each: Column) -> str:
    """Heading in a notebook, where times are shown as h:min:s."""
    return each.name if each.kind in _SECONDS else _heading(each)


def _shown(value: Any, kind: str | None) -> str:
    if value is None:
        return ""
    if kind is not None:
        return show_number(float(value), kind)
    return value if isinstance(value, str) else f"{value:,.6g}"


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else f"{value:.7g}"


def _check_path(path: Path, suffixes: Sequence[str], *, overwrite: bool) -> None:
    try:
        check_writable(path, force=overwrite, suffixes=suffixes)
    except OutputExists:
        raise OutputExists(f"{path}: exists; choose another name, or write overwrite=True") from None
