"""Water and fuel that an engine uses between two runs: the fire kept, and boiler and fire made ready for the second."""

from __future__ import annotations

from locosim.compiled import in_python
from locosim.constants import STEEL_SPECIFIC_HEAT, ZERO_CELSIUS
from locosim.engine.boiler.stored_heat import metal_mass
from locosim.engine.performance import Performance
from locosim.frozen import frozen
from locosim.journey.kernel.arrays import Boiler
from locosim.journey.kernel.fire import fire_heat, firing_for_steam
from locosim.journey.result import Journey
from locosim.journey.run import with_rehearsal
from locosim.journey.setup.prepare import prepare
from locosim.model import Excursion
from locosim.physics.steam import properties as steam


@frozen
class StandingUse:
    """Water and fuel from the tender between two runs.

    Attributes:
        standing_water: For the steam of the auxiliaries, or what the fire makes at the least if that is more [kg].
        filling_water: To bring the boiler back to its working level; negative where it is above [kg].
        standing_fuel: To keep the fire [kg].
        raising_fuel: To bring boiler and pressure back [kg].
        bed_fuel: To build the fire for the road ahead; negative where more is on the grate [kg].
    """

    standing_water: float
    filling_water: float
    standing_fuel: float
    raising_fuel: float
    bed_fuel: float

    @property
    def water(self) -> float:
        """Water from the tender [kg]; what a boiler has too much is used before any is fed."""
        return max(self.standing_water + self.filling_water, 0.0)

    @property
    def fuel(self) -> float:
        """Fuel from the tender [kg]; what the grate has too much burns before any is fired."""
        return max(self.standing_fuel + self.raising_fuel + self.bed_fuel, 0.0)


def standing_use(ended: Journey, following: Excursion, duration: float) -> StandingUse:
    """Find what an engine uses from the end of a run to the departure of its next.

    The fire is kept: it burns what the steam of the auxiliaries needs, and no less than with the dampers closed. What
    it then makes too much is blown off. Pressure, level and fire are brought to those with which a run begins.

    Args:
        ended: The run that ended.
        following: The next excursion of the engine.
        duration: Time between them [s].
    """
    performance = ended.performance
    prepared = with_rehearsal(prepare(following, performance, transient_boiler=True))
    boiler, start = prepared.boiler, prepared.start
    burned = max(boiler.min_firing, in_python(firing_for_steam)(boiler, boiler.auxiliary_steam))
    made = (fire_heat(boiler, burned) - boiler.radiation_loss) / boiler.evaporation_heat
    filled = start.water - float(ended.boiler_water[-1])
    heat = start.heat - _heat_at_end(ended, performance) - filled * boiler.feed_enthalpy
    return StandingUse(
        standing_water=max(made, boiler.auxiliary_steam) * duration * boiler.tender_water_ratio,
        filling_water=filled * boiler.tender_water_ratio,
        standing_fuel=burned * duration,
        raising_fuel=max(heat, 0.0) / _heat_per_fuel(boiler),
        bed_fuel=start.bed - float(ended.grate_fuel[-1]) if boiler.full_bed > 0.0 else 0.0,
    )


def _heat_at_end(journey: Journey, performance: Performance) -> float:
    """Heat of boiler water and metal at the end of a run, above water at 0 degC [J]."""
    pressure = float(journey.pressure[-1])
    water = float(journey.boiler_water[-1]) * steam.liquid_enthalpy(pressure=pressure)
    temperature = steam.saturation_temperature(pressure=pressure) - ZERO_CELSIUS
    metal = metal_mass(performance.locomotive, journey.excursion.assumptions)
    return float(water + STEEL_SPECIFIC_HEAT * metal * temperature)


def _heat_per_fuel(boiler: Boiler) -> float:
    """Heat to the water from fuel burned at half the maximum firing rate [J/kg]."""
    rate = 0.5 * boiler.max_firing
    return float(fire_heat(boiler, rate) / rate)
