"""Water over the crown sheet along a run, with the boiler tilted by grade and acceleration."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locosim.compiled import compiled
from locosim.engine.boiler.stored_heat import working_water
from locosim.model import Boiler
from locosim.physics.boiler import water_level
from locosim.physics.steam.properties import liquid_density
from locosim.physics.types import Floats

HALF_GLASS = 0.125  # working level above the lowest reading of the glass [m]; common practice, no source
CROWN_FROM_BACKHEAD = (
    0.15  # back end of the crown sheet ahead of the backhead [m]; common practice, no source
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilerSpace:
    """Water space as a cylinder, with the crown sheet in it; positions from the middle, towards the chimney.

    Attributes:
        length: Of the water space [m].
        diameter: Of the barrel [m].
        crown_back: Position of the back end of the crown sheet [m].
        crown_front: Position of its front end [m].
        crown_height: Height of its highest part, the front end, over the lowest line of the barrel [m].
        crown_fall: How much lower its back end is [m].
        glass_bottom: Height of the lowest reading of the glass [m].
        working_volume: Volume under the working level, tubes and firebox counted [m³].
        working_water: Water at working level [kg].
        density: Of the water at working pressure [kg/m³].
        bare_water: Water at which the crown sheet is bare on the level [kg].
    """

    length: float
    diameter: float
    crown_back: float
    crown_front: float
    crown_height: float
    crown_fall: float
    glass_bottom: float
    working_volume: float
    working_water: float
    density: float
    bare_water: float


def boiler_space(boiler: Boiler) -> BoilerSpace | None:
    """Water space of a boiler, or None where its file gives no geometry.

    Near the working level the barrel is clear of tubes, so a change of the water is a change of the volume
    under the surface; what tubes and firebox take below it is a constant.
    """
    length, diameter = boiler.barrel_length, boiler.barrel_diameter
    height, crown = boiler.crown_height, boiler.crown_length
    if length is None or diameter is None or height is None or crown is None:
        return None
    back = -0.5 * length + CROWN_FROM_BACKHEAD
    bottom = height + boiler.glass_least_cover
    level = min(bottom + HALF_GLASS, 0.98 * diameter)
    density = liquid_density(pressure=boiler.absolute_pressure)
    volume = float(water_level.volume_below(level, length, diameter))
    above = volume - float(water_level.volume_below(height, length, diameter))
    water = working_water(boiler)
    return BoilerSpace(
        length=length,
        diameter=diameter,
        crown_back=back,
        crown_front=back + crown,
        crown_height=height,
        crown_fall=boiler.crown_slope * crown,
        glass_bottom=bottom,
        working_volume=volume,
        working_water=water,
        density=density,
        bare_water=max(water - density * above, 0.0),
    )


def cover_along(space: BoilerSpace, water: Floats, tilt: Floats) -> tuple[Floats, Floats]:
    """Least cover of the crown sheet and reading of the glass at each place.

    Args:
        space: The water space.
        water: In the boiler, shape (n,) [kg].
        tilt: Slope of the surface, falling towards the chimney, shape (n,) [1].

    Returns:
        Least water over the crown sheet [m] and glass reading above its lowest [m], shape (n,).
    """
    volume = space.working_volume + (water - space.working_water) / space.density
    at = (volume, tilt, space.length, space.diameter)
    back = _levels(space.crown_back, *at) - (space.crown_height - space.crown_fall)
    front = _levels(space.crown_front, *at) - space.crown_height
    return np.minimum(back, front), _levels(-0.5 * space.length, *at) - space.glass_bottom


@compiled
def _levels(position: float, volume: Floats, tilt: Floats, length: float, diameter: float) -> Floats:
    """Height of the surface at one place along the boiler, for each volume and tilt [m]."""
    heights = np.empty(len(volume))
    for i in range(len(volume)):
        heights[i] = water_level.level_at(position, volume[i], tilt[i], length, diameter)
    return heights
