"""The bed of burning fuel on a grate: its mass by depth."""

from __future__ import annotations

from locosim.constants import INCH

# Of burning coal, which is coke by then, as it lies on a grate [Schinz1866].
BED_DENSITY = 400.0  # [kg/m3]

# With strong draft and large coal [CyclopediaFiring].
MAX_BED_DEPTH = 12.0 * INCH  # [m]


def fuel_bed_mass(*, depth: float, grate_area: float) -> float:
    """Mass of burning fuel on a grate.

    Args:
        depth: Depth of the bed [m].
        grate_area: Area of the grate [m2].

    Returns:
        Mass [kg].

    References:
        [Schinz1866], coke on the grate 400 kg/m3.
    """
    return BED_DENSITY * depth * grate_area
