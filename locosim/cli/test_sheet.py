"""The command that compares an engine with its test sheet."""

from __future__ import annotations

from locosim.cli.app import app
from locosim.cli.options import (
    EngineChanges,
    EngineFile,
    Force,
    JsonOption,
    OptionTexts,
    Output,
    PlotFile,
    Units,
    UnitsOption,
)


@app.command(name="test-sheet")
def sheet(
    engine: EngineFile,
    change: EngineChanges = None,
    units: UnitsOption = Units.us,
    json: JsonOption = False,
    plot: PlotFile = None,
    force: Force = False,
) -> None:
    """The engine's test sheet beside computed figures, and what was set from it.

    Example: locosim test-sheet engine.toml
    """
    output = Output("test-sheet", units, json, force, plot=plot)
    from locosim.engine.test_sheet.sheet_comparison import compare_sheet
    from locosim.loading import load_engine
    from locosim.scenario import split_assumption_changes

    with OptionTexts().error_context(engine):
        assumptions, rest = split_assumption_changes(change or ())
        result = compare_sheet(load_engine(engine, changes=rest), assumptions)
    output.write(result)
