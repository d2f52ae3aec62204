"""Functions and results for a timetable."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from locosim.errors import LocosimError, OutputExists
from locosim.library.quantities import Quantity, quantity
from locosim.library.table import Column, Result, column
from locosim.model import Excursion
from locosim.planning.timetable import Timetable, TimetableRequest, TimetableSection
from locosim.planning.timetable_search import compute_timetable
from locosim.report.output_files import check_writable, write
from locosim.scenario.excursion_file import excursion_file


class TimetableResult(Result[Timetable]):
    """A timetable: one row for each section between stops."""

    command = "timetable"

    @property
    def rows(self) -> tuple[TimetableSection, ...]:
        """Sections, in SI."""
        return self.content.sections

    @property
    def excursion(self) -> Excursion:
        """The excursion with the booked times, ready for `check`."""
        return self.content.excursion

    @property
    def verdict(self) -> str:
        """Verdict of the check with the booked times."""
        return self.content.answer.verdict

    def title(self) -> str:
        """Name of the excursion and verdict."""
        return f"{self.excursion.name}: timetable, {self.verdict.upper()}"

    @property
    def method(self) -> str:
        """Method of computing the engine, `cycle` or `handbook`."""
        return self.content.performance.method

    def columns(self) -> Sequence[Column]:
        """One row for each section."""
        stops = self.content.stops
        return [
            column("from", None, self.rows, lambda s: s.start),
            column("to", None, self.rows, lambda s: s.end),
            column("distance", "distance", self.rows, lambda s: s.distance),
            column("least running time", "time", self.rows, lambda s: s.least),
            column("booked running time", "time", self.rows, lambda s: s.booked),
            column("recovery", "time", self.rows, lambda s: s.recovery),
            column("fuel saved", "small_mass", self.rows, lambda s: s.fuel_saved),
            column("arrival", "clock", stops[1:], lambda s: s.arrive),
            column("departure", "clock", stops[:-1], lambda s: s.depart),
        ]

    def write_excursion(self, path: str | Path, *, overwrite: bool = False) -> None:
        """Write the excursion with its booked times as a file.

        Args:
            path: File to write, ending in .toml.
            overwrite: Replace a file that exists.

        Raises:
            OutputExists: The file exists and `overwrite` is not set.
            LocosimError: The excursion was made in code and has no file, or the new one cannot be written.
        """
        provenance = self.excursion.provenance
        if provenance is None:
            raise LocosimError(
                "the excursion was not read from a file, so no file can be written from it; "
                "use load_excursion, or pass `excursion` on to check"
            )
        target = Path(path)
        try:
            check_writable(target, force=overwrite, suffixes=(".toml",))
        except OutputExists:
            raise OutputExists(f"{target}: exists; choose another name, or write overwrite=True") from None
        source = Path(provenance.files[0].path)
        comment = f"Written by locosim timetable from {source.name}."
        content = excursion_file(source, provenance.changes, self.excursion, target, [comment])
        write(target, content, force=overwrite)


def timetable(
    excursion: Excursion,
    *,
    recovery: Quantity = 0.05,
    step: Quantity = 60.0,
    sharing: str = "least_fuel",
) -> TimetableResult:
    """Make a timetable: least running times, recovery, stops, earliest and latest departures.

    The booked times of the excursion are not used; its first departure, its dwells and its work at stops are.

    Args:
        excursion: Engine, train, route, stops and conditions.
        recovery: A share of the least running time, as 0.05 or "5 %", or a time, as "8 minute".
        step: Booked times are multiples of it, as 60 [s] or "1 minute".
        sharing: `least_fuel` shares the recovery where it saves most fuel, `even` in proportion to running time.

    Raises:
        OutOfRange: A value is not allowed, or the train does not reach every stop at full effort.
        UnitError: A text cannot be read as such a quantity.
    """
    seconds = quantity(step, "s", "step")
    if isinstance(recovery, str) and "%" not in recovery:
        request = TimetableRequest(
            recovery_time=quantity(recovery, "s", "recovery"), step=seconds, sharing=sharing
        )
    else:
        share = quantity(recovery, "", "recovery")
        request = TimetableRequest(recovery=share, step=seconds, sharing=sharing)
    return TimetableResult(compute_timetable(excursion, request))
