"""Published tables kept as CSV files beside the code."""

from __future__ import annotations

import csv
from importlib.resources import files

import numpy as np
import numpy.typing as npt


def read_table(name: str) -> dict[str, npt.NDArray[np.float64]]:
    """Read a table of numbers by columns; lines that begin with # are comments, an empty cell is nan.

    Args:
        name: Name of a file in `physics/data`.

    Returns:
        Arrays of shape (rows,) by column heading.
    """
    text = (files("locosim.physics") / "data" / name).read_text(encoding="utf-8")
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    return {
        heading: np.array([float(row[heading]) if row[heading] else np.nan for row in rows])
        for heading in rows[0]
    }
