"""Water level over the crown sheet and in the glass, with the boiler tilted by grade and acceleration."""

from __future__ import annotations

import numpy as np

from locosim.compiled import in_python
from locosim.engine.boiler.stored_heat import water_at_working_level
from locosim.frozen import frozen
from locosim.model import Assumptions, Boiler
from locosim.physics.boiler import water_level
from locosim.physics.steam.properties import liquid_density
from locosim.physics.types import Floats

MAX_LEVEL_SHARE = 0.98  # of the diameter, highest working level


@frozen
class WaterSpace:
    """Water space as a cylinder with the crown sheet in it; positions are from its middle toward the stack.

    Attributes:
        length: Of the water space [m].
        diameter: Of the barrel [m].
        crown_back: Position of the back end of the crown sheet [m].
        crown_front: Position of its front end [m].
        crown_sheet_height: Height of its front end, the highest part, over the lowest line of the barrel [m].
        crown_drop: How much lower its back end is [m].
        glass_bottom: Height of the lowest reading of the water glass [m].
        working_volume: Volume of the cylinder under the working level, with tubes and firebox [m³].
        water_at_working_level: Water at working level [kg].
        density: Of the water at working pressure [kg/m³].
        crown_sheet_water: Water at which the crown sheet is bare on level track [kg].
    """

    length: float
    diameter: float
    crown_back: float
    crown_front: float
    crown_sheet_height: float
    crown_drop: float
    glass_bottom: float
    working_volume: float
    water_at_working_level: float
    density: float
    crown_sheet_water: float


def build_water_space(boiler: Boiler, assumptions: Assumptions) -> WaterSpace | None:
    """Water space of a boiler, or None where its dimensions are not given.

    Near the working level the barrel is clear of tubes, so a change of water changes the volume under the surface by
    as much; what tubes and firebox take below it is constant.
    """
    length, diameter = boiler.water_space_length, boiler.shell_inside_diameter
    height, crown = boiler.crown_sheet_height, boiler.crown_sheet_length
    if length is None or diameter is None or height is None or crown is None:
        return None
    back = -0.5 * length + assumptions.crown_sheet_setback
    bottom = height + boiler.crown_sheet_cover_at_glass_bottom
    level = min(bottom + assumptions.working_level_in_glass, MAX_LEVEL_SHARE * diameter)
    density = liquid_density(pressure=boiler.absolute_pressure)
    volume = float(in_python(water_level.volume_below)(level, length, diameter))
    above = volume - float(in_python(water_level.volume_below)(height, length, diameter))
    water = water_at_working_level(boiler, assumptions)
    return WaterSpace(
        length=length,
        diameter=diameter,
        crown_back=back,
        crown_front=back + crown,
        crown_sheet_height=height,
        crown_drop=boiler.crown_sheet_slope * crown,
        glass_bottom=bottom,
        working_volume=volume,
        water_at_working_level=water,
        density=density,
        crown_sheet_water=max(water - density * above, 0.0),
    )


def cover_and_glass(space: WaterSpace, water: Floats, tilt: Floats) -> tuple[Floats, Floats]:
    """Lowest cover of the crown sheet and reading of the glass, for each water and tilt.

    Args:
        space: The water space.
        water: In the boiler, shape (n,) [kg].
        tilt: Slope of the surface, falling toward the stack, shape (n,) [1].

    Returns:
        Water over the crown sheet [m] and level above the lowest reading of the glass [m], shape (n,).
    """
    volume = space.working_volume + (water - space.water_at_working_level) / space.density
    middle = water_level.levels_at_midlength(volume, tilt, space.length, space.diameter)
    back = middle - tilt * space.crown_back - (space.crown_sheet_height - space.crown_drop)
    front = middle - tilt * space.crown_front - space.crown_sheet_height
    return np.minimum(back, front), middle + tilt * (0.5 * space.length) - space.glass_bottom
