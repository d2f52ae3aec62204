"""Tables and results: rows with a unit in each heading, for Python, pandas, notebooks and files."""

from __future__ import annotations

import csv
import importlib
import io
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from locosim import __version__
from locosim.errors import LocosimError, OutputExists
from locosim.report.caution import CAUTION
from locosim.report.output_files import IMAGE_SUFFIXES, check_writable, write
from locosim.units import label as unit_label
from locosim.units import number, scale, show_number

if TYPE_CHECKING:
    from locosim.plot.figure import Figure

DEFAULT_UNITS = "metric"
_SECONDS = ("time", "clock")  # kinds shown as h:min:s, and given as numbers in seconds
_OFFSET = ("temperature",)  # kinds that no factor alone converts


@dataclass(frozen=True, slots=True)
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


class Table(ABC):
    """Rows of named quantities, converted to the units of the reader."""

    @abstractmethod
    def title(self, units: str = DEFAULT_UNITS) -> str:
        """One line that names the table; `units` is `us`, `metric` or `british`."""

    @abstractmethod
    def columns(self, units: str) -> Sequence[Column]:
        """Columns, values in SI; `units` matters only to texts in them."""

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
        columns = self.columns(units)
        headings = [_heading(each, units) for each in columns]
        values = [[_converted(value, each.kind, units) for value in each.values] for each in columns]
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
        headings = [_heading(each, units) for each in self.columns(units)]
        return pandas.DataFrame(self.to_rows(units), columns=headings)

    def _repr_html_(self) -> str:
        """Table for a notebook, with the caution."""
        columns = self.columns(DEFAULT_UNITS)
        head = "".join(f"<th>{escape(_shown_heading(each))}</th>" for each in columns)
        cells = [[_shown(value, each.kind) for value in each.values] for each in columns]
        rows = "".join(
            f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>"
            for row in zip(*cells, strict=True)
        )
        return (
            f"<table><caption>{escape(self.title())}</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
            f"<p><small>{escape(CAUTION)}</small></p>"
        )

    def __repr__(self) -> str:
        """Title and size of the table."""
        columns = self.columns(DEFAULT_UNITS)
        return f"<{type(self).__name__}: {self.title()}; {len(columns[0].values)} rows>"

    def __len__(self) -> int:
        """Count of rows."""
        return len(self.columns(DEFAULT_UNITS)[0].values)


class Result(Table):
    """A table with the text, JSON and pictures of the command that prints it."""

    @abstractmethod
    def text(self, units: str = DEFAULT_UNITS) -> str:
        """Text as the command prints it; `units` is `us`, `metric` or `british`."""

    @abstractmethod
    def json(self) -> str:
        """JSON in SI as the command writes it."""

    @abstractmethod
    def figure(self, units: str) -> Figure:
        """Picture as the command draws it."""

    @property
    def provenance(self) -> Any:
        """Files, their hashes and the changes that the input was made from; None where it was made in code."""
        return None

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
        """
        if path is None:
            return self.figure(units)
        _check_path(Path(path), IMAGE_SUFFIXES, overwrite=overwrite)
        figure = self.figure(units)
        write(Path(path), _figure_bytes(figure, Path(path).suffix), force=overwrite)
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
        file, writers = Path(path), self._writers(units)
        _check_path(file, tuple(writers), overwrite=overwrite)
        write(file, writers[file.suffix.lower()](), force=overwrite)

    def _writers(self, units: str) -> Mapping[str, Callable[[], bytes]]:
        """For each ending of a file name, what makes its content."""
        writers: dict[str, Callable[[], bytes]] = {
            ".json": lambda: f"{self.json()}\n".encode(),
            ".csv": lambda: self.csv(units).encode(),
            ".txt": lambda: f"{self.text(units)}\n".encode(),
        }
        for suffix in IMAGE_SUFFIXES:
            writers[suffix] = lambda suffix=suffix: _figure_bytes(self.figure(units), suffix)  # type: ignore[misc]
        return writers

    def csv(self, units: str = DEFAULT_UNITS) -> str:
        """Rows for a spreadsheet; the first lines are remarks that begin with #."""
        out = io.StringIO()
        remarks = [
            f"{self.title(units)}; locosim {__version__}",
            *_provenance_remarks(self.provenance),
            CAUTION,
        ]
        out.writelines(f"# {remark}\n" for remark in remarks)
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow([_heading(each, units) for each in self.columns(units)])
        writer.writerows([_cell(value) for value in row.values()] for row in self.to_rows(units))
        return out.getvalue()


def _heading(each: Column, units: str) -> str:
    return f"{each.name} [{unit}]" if (unit := _unit(each.kind, units)) else each.name


def _unit(kind: str | None, units: str) -> str:
    return "" if kind is None else number_unit(kind, units)


def number_unit(kind: str, units: str) -> str:
    """Unit of the numbers that `as_number` gives."""
    if kind in _SECONDS:
        return "s"
    return unit_label(kind, units) if kind in _OFFSET else scale(kind, units)[1]


def as_number(value: float, kind: str, units: str) -> float:
    """Convert a value from SI to a number in the units of the reader: times in s, sharpness of curves as radius."""
    if kind in _SECONDS:
        return float(value)
    return number(float(value), kind, units) if kind in _OFFSET else float(value) * scale(kind, units)[0]


def _converted(value: Any, kind: str | None, units: str) -> Any:
    return value if value is None or kind is None else as_number(value, kind, units)


def _shown_heading(each: Column) -> str:
    """Heading in a notebook, where times are shown as h:min:s."""
    return each.name if each.kind in _SECONDS else _heading(each, DEFAULT_UNITS)


def _shown(value: Any, kind: str | None) -> str:
    if value is None:
        return ""
    if kind is not None:
        return show_number(float(value), kind, DEFAULT_UNITS)
    return value if isinstance(value, str) else f"{value:,.6g}"


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return value if isinstance(value, str) else f"{value:.7g}"


def _provenance_remarks(provenance: Any) -> list[str]:
    """Files with their hashes, and changes, one remark each."""
    if provenance is None:
        return []
    files = [f"{path} sha256 {digest}" for path, digest in provenance.files]
    return [*files, *(f"change {change}" for change in provenance.changes)]


def _check_path(path: Path, suffixes: Sequence[str], *, overwrite: bool) -> None:
    try:
        check_writable(path, force=overwrite, suffixes=suffixes)
    except OutputExists:
        raise OutputExists(f"{path}: exists; choose another name, or write overwrite=True") from None


def _figure_bytes(figure: Figure, suffix: str) -> bytes:
    from locosim.plot.figure import figure_bytes

    return figure_bytes(figure, suffix)
