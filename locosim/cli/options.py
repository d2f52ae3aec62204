"""Options shared by the commands: how they are written, read, and named in errors; and where results go."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand

from locosim.cli.streams import say
from locosim.errors import OutOfRange

_MINUS = "\N{MINUS SIGN}"  # which locosim.units reads as a minus too


class NegativeNumberCommand(TyperCommand):
    """A command whose arguments may be negative numbers, which are not options."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Parse the command line, with the hyphen before a number replaced by a minus sign."""
        return super().parse_args(ctx, [re.sub(r"^-(?=\.?\d)", _MINUS, word) for word in args])


class Units(StrEnum):
    """Systems of units."""

    us = "us"
    metric = "metric"
    british = "british"


class Method(StrEnum):
    """Methods of computing an engine."""

    cycle = "cycle"
    handbook = "handbook"


def change_option(keys: str, *examples: str) -> Any:
    """The option `--change` of a command.

    Args:
        keys: Whose keys can be changed.
        examples: Changes that can be written.
    """
    shown = ", ".join(f'"{example}"' for example in examples)
    return typer.Option(
        "--change",
        help=f"What-if change, as key=value with a key of {keys}; repeatable. "
        f"Example{'s' if len(examples) > 1 else ''}: {shown}.",
        show_default=False,
    )


ExcursionFile = Annotated[
    Path,
    typer.Argument(help="Excursion file, such as excursion.toml; `new` creates one.", show_default=False),
]
EngineFile = Annotated[
    Path, typer.Argument(help="Engine file, such as engine.toml; `new` creates one.", show_default=False)
]
JsonOption = Annotated[bool, typer.Option("--json", help="Write JSON in SI instead of text.")]
UnitsOption = Annotated[Units, typer.Option("--units", help="Units of texts, pictures and tables.")]
PlotFile = Annotated[
    Path | None,
    typer.Option(
        "--plot", help="Also draw a picture, such as plot.png; .svg and .pdf as well.", show_default=False
    ),
]
CsvFile = Annotated[
    Path | None,
    typer.Option("--csv", help="Also write the samples as a table, such as run.csv.", show_default=False),
]
MethodOption = Annotated[
    Method,
    typer.Option("--method", help="Compute from cylinders and boiler, or by published averages."),
]
RailOption = Annotated[
    str,
    typer.Option(
        "--rail",
        help="Rail condition, with its coefficient of adhesion: dry sanded 0.30, very dry 0.27, dry 0.25, "
        "wet washed 0.25, ordinary 0.20, moist 0.20, wet sanded 0.20, long grade 0.16, wet 0.15, greasy 0.13, "
        "frost 0.09 or half wet 0.08.",
    ),
]
FuelKind = Annotated[
    str | None,
    typer.Option(
        "--fuel", help="Fuel: bituminous, subbituminous, anthracite, wood or oil.", show_default=False
    ),
]
HeatingValue = Annotated[
    str | None,
    typer.Option(
        "--heating-value", help='Gross heating value as fired, such as "12800 Btu/lb".', show_default=False
    ),
]
SpeedArgument = Annotated[
    str, typer.Argument(help='Speed with its unit, such as "40 mph".', show_default=False)
]
Force = Annotated[bool, typer.Option("--force", help="Overwrite existing files.")]
Changes = Annotated[
    list[str] | None,
    change_option(
        "the file or of a file it names",
        "train.vehicles[1].count=9",
        "locomotive.boiler.working_pressure_gauge=180 psi",
    ),
]
EngineChanges = Annotated[
    list[str] | None,
    change_option("the file or an assumption", "boiler.working_pressure_gauge=180 psi"),
]

# Options and arguments on the command line, by the names of the library.
_OPTION_NAMES = {
    "step": "--step",
    "duration": "--short-effort",
    "rail": "--rail",
    "speed": "speed",
    "cutoff": "cutoff",
    "throttle": "--throttle",
    "effort": "--tractive-effort",
    "pressure": "--pressure",
    "kind": "--fuel",
    "heating_value": "--heating-value",
    "lengths": "--train-length",
    "entry_speed": "--entry-speed",
    "min_speed": "--lowest-speed",
    "ruling": "--ruling-grade",
    "speed_limit": "--speed-limit",
    "smoothing": "--smooth",
    "window": "--curve-window",
    "max_grade": "--max-grade",
    "recovery": "--recovery",
    "grades": "--grade",
    "speeds": "--speed",
    "empty_mass": "--empty-car",
    "loaded_mass": "--loaded-car",
    "law": "--law",
    "fuel_price": "--fuel-price",
    "water_price": "--water-price",
    "time_price": "--time-price",
    "order": "--sort",
    "vehicle": "--vehicle",
    "verdict": "--verdict",
    "mass_step": "--mass-step",
    "temperature": "--temperature",
    "start": "--start",
    "end": "--end",
    "firing_rates": "--firing-rate",
    "draft": "--draft",
}


class OptionTexts:
    """The options of a command as the user wrote them, by the names of the library."""

    def __init__(self, **texts: str | Sequence[str] | None) -> None:
        self._texts = {
            name: (text,) if isinstance(text, str) else tuple(text) for name, text in texts.items() if text
        }

    def text(self, name: str) -> str | None:
        """Text of an option; None if omitted."""
        return " and ".join(self._texts[name]).replace(_MINUS, "-") if name in self._texts else None

    def quantities(self, name: str, unit: str) -> tuple[float, ...]:
        """Values of a repeatable option in an SI unit; none if omitted.

        Raises:
            UnitError: The text is not such a quantity; the message names the option.
        """
        from locosim.units import option_quantity

        texts = self._texts.get(name, ())
        return tuple(option_quantity(text.replace(_MINUS, "-"), unit, _OPTION_NAMES[name]) for text in texts)

    def optional_quantity(self, name: str, unit: str) -> float | None:
        """Value of an option in an SI unit; None if omitted. Raises as `quantities`."""
        return next(iter(self.quantities(name, unit)), None)

    def price(self, name: str, unit: str) -> float | None:
        """Price for an SI unit, from a number, `/` and a quantity; None if omitted. Raises as `quantities`."""
        from locosim.units import option_price

        text = next(iter(self._texts.get(name, ())), None)
        return None if text is None else option_price(text, unit, _OPTION_NAMES[name])

    def quantity(self, name: str, unit: str) -> float:
        """Value of an option that has a default or is required, in an SI unit. Raises as `quantities`."""
        from locosim.units import option_quantity

        given = self.optional_quantity(name, unit)
        return (
            option_quantity("", unit, _OPTION_NAMES[name]) if given is None else given
        )  # given as empty text

    @contextmanager
    def error_context(self, source: object) -> Iterator[None]:
        """Report a value out of range with its option as written, or else with the file."""
        try:
            yield
        except OutOfRange as wrong:
            from locosim.units import fault_message

            if not wrong.faults or any(fault.key not in self._texts for fault in wrong.faults):
                raise OutOfRange(f"{source}: {wrong}", wrong.faults) from wrong
            messages = [
                f"{_OPTION_NAMES[fault.key]}: {fault_message(fault, self.text(fault.key) or '')}"
                for fault in wrong.faults
            ]
            raise OutOfRange("; ".join(messages), wrong.faults) from wrong


class Output:
    """Where the result of a command goes: text or JSON to standard output, and files.

    Args:
        command: The command.
        units: System of units.
        json: Write JSON instead of text.
        force: Overwrite existing files.
        or_same: Leave existing files that have the content to be written, as a command that was stopped has left them.
        **files: File for each medium of `locosim.rendering`; None for one that is not written.

    Raises:
        LocosimError: A file cannot be written; found before anything is computed.
    """

    def __init__(
        self,
        command: str,
        units: Units,
        json: bool,
        force: bool,
        *,
        or_same: bool = False,
        **files: Path | None,
    ) -> None:
        from locosim.report.output_files import (
            CSV_SUFFIXES,
            HTML_SUFFIXES,
            IMAGE_SUFFIXES,
            check_outputs_writable,
        )

        options = {
            "plot": ("--plot", IMAGE_SUFFIXES),
            "html": ("--report", HTML_SUFFIXES),
            "csv": ("--csv", CSV_SUFFIXES),
        }
        outputs = {options[medium][0]: (path, options[medium][1]) for medium, path in files.items()}
        check_outputs_writable(outputs, force=force or or_same)
        self._command, self._units, self._json = command, units, json
        self._over = {"force": force, "or_same": or_same}
        self._files = {medium: path for medium, path in files.items() if path is not None}

    def write(self, result: Any, **text_options: Any) -> None:
        """Write a result to standard output and to the files; the options go to the text renderer."""
        from locosim.rendering import file_content, renderer
        from locosim.report.output_files import write
        from locosim.units import unit_system

        with unit_system(self._units):
            if self._json:
                say(renderer(self._command, "json")(result))
            else:
                say(renderer(self._command, "text")(result, **text_options))
            for medium, path in self._files.items():
                write(path, file_content(self._command, medium, result, path.suffix), **self._over)
                typer.echo(f"wrote {path}", err=True)
