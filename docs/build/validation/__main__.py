"""Compute every figure and write docs/validation.md and its pictures."""

from __future__ import annotations

import time

from locosim.plot.figure import figure_bytes

from . import bands
from .page import IMAGES, PAGE, comparisons, missed_targets, rendered
from .plots import PLOTS


def main() -> None:
    """Write the page and the pictures, and print the missed targets."""
    start = time.perf_counter()
    bands.FILE.write_text(bands.file_text(bands.bands(comparisons())), encoding="utf-8")
    PAGE.write_text(rendered(), encoding="utf-8")
    IMAGES.mkdir(exist_ok=True)
    for name, plot in PLOTS.items():
        (IMAGES / f"validation_{name}.svg").write_bytes(figure_bytes(plot(), ".svg"))
    print(f"{PAGE.name} and {len(PLOTS)} pictures in {time.perf_counter() - start:.0f} s")
    for missed in missed_targets():
        print(f"missed: {missed.case}: {missed.error_text}")


if __name__ == "__main__":
    main()
