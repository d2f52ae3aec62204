"""A locomotive laid out for the cylinder cycle: its cylinders, steam supply and constants of the cycle.

What the file does not give follows from design rules, and `notes` says which rule was used. The steam temperature is
that of the design supply, with the usual fuel, whoever fires today.
"""

from __future__ import annotations

import math

import numpy as np

from locosim.engine.boiler.by_heat_balance import design_supply
from locosim.engine.boiler.front_end import (
    front_end,
    nozzle_area,
    nozzle_steam_share,
    vacuum_ratio,
)
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.engine.cylinders.cylinder_groups import CylinderGroup, cylinder_groups
from locosim.engine.cylinders.valves import cutoff_range, valve_gear_notes
from locosim.engine.si_text import format_opening, format_pressure, format_temperature
from locosim.frozen import frozen
from locosim.model import Assumptions, Locomotive, SteamPassages
from locosim.physics.boiler.draft import DRAFT_TO_BACK_PRESSURE_RATIO
from locosim.physics.boiler.limits import FIRE, FRONT_END, GRATE, OIL_BURNER
from locosim.physics.cylinder import design_rules
from locosim.physics.cylinder.revolution import CycleConstants, Cylinder
from locosim.physics.steam import properties as steam
from locosim.physics.types import Floats

# Quality of steam from a boiler without superheater, as in the fit of the cycle's constants.
BOILER_STEAM_QUALITY = 0.985
BOILER_LIMITS = (
    GRATE,
    OIL_BURNER,
    FIRE,
    FRONT_END,
)  # limits of the boiler itself, not of the crew or the feed


@frozen(eq=False)
class CycleLayout:
    """An engine ready for the cycle.

    Attributes:
        locomotive: The engine.
        groups: Its cylinders.
        design: Steam supply that gives the steam temperature.
        constants: Constants of the cycle, with the engine's own values.
        design_steam_rate: Steam to the cylinders at the limit of the boiler itself [kg/s].
        throttle_area_ratio: Area of the wide-open throttle over that of the rest of the steam passage [1].
        steam_rate_factor: Steam to the cylinders over that computed by the cycle [1].
        min_cutoff: Shortest cutoff used [1].
        max_cutoff: Longest cutoff of the gear [1].
        notes: What was set by rule because the engine file does not give it.
    """

    locomotive: Locomotive
    groups: tuple[CylinderGroup, ...]
    design: SteamSupply
    constants: CycleConstants
    design_steam_rate: float
    throttle_area_ratio: float
    steam_rate_factor: float
    min_cutoff: float
    max_cutoff: float
    notes: tuple[str, ...]

    def steam_temperature(self, steam_rate: Floats) -> Floats:
        """Steam temperature [K] at a steam rate to the cylinders in kg/s, of the same shape."""
        return self.design.steam_temperature_at(steam_rate + self.locomotive.auxiliaries.continuous_demand)

    def enthalpy(self, pressure: Floats, temperature: Floats) -> Floats:
        """Enthalpy of the steam leaving the boiler [J/kg], of the shape of the arguments.

        Args:
            pressure: Absolute boiler pressure [Pa].
            temperature: Steam temperature; not used without a superheater [K].
        """
        if self.locomotive.boiler.superheater is None:
            return np.asarray(np.vectorize(_wet_steam_enthalpy, otypes=[float])(pressure))
        return np.asarray(np.vectorize(_superheated_enthalpy, otypes=[float])(pressure, temperature))


def _wet_steam_enthalpy(pressure: float) -> float:
    return steam.wet_steam_enthalpy(pressure=pressure, quality=BOILER_STEAM_QUALITY)


def _superheated_enthalpy(pressure: float, temperature: float) -> float:
    boiling = steam.saturation_temperature(pressure=pressure)
    return steam.enthalpy(pressure=pressure, temperature=max(temperature, boiling + 0.1))


def _steam_rate_factor(locomotive: Locomotive, assumptions: Assumptions) -> float:
    """Steam over that computed by the cycle: the engine's own factor, or the assumed one [1]."""
    own = locomotive.steam_passages.steam_rate_factor
    return assumptions.steam_rate_factor if own is None else own


def build_cycle_layout(locomotive: Locomotive, assumptions: Assumptions = Assumptions()) -> CycleLayout:
    """Lay a locomotive out for the cycle.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures.

    Raises:
        OutOfRange: Cylinders arranged so that the cycle does not cover them, or a gear that gives no cutoff.
    """
    design = design_supply(locomotive, assumptions)
    boiler_limit = min(limit.steam for limit in design.limits if limit.name in BOILER_LIMITS)
    full = max(boiler_limit - locomotive.auxiliaries.continuous_demand, 0.5 * boiler_limit)
    temperature = float(design.steam_temperature_at(boiler_limit))
    # A feedwater heater takes its part of the exhaust, as if the nozzle were so much wider.
    nozzle = nozzle_area(locomotive) / nozzle_steam_share(locomotive, assumptions)
    passage = _steam_passage_area(locomotive)
    groups = cylinder_groups(locomotive, passage, nozzle, assumptions)
    shortest, longest, notes = cutoff_range(locomotive)
    return CycleLayout(
        locomotive=locomotive,
        groups=groups,
        design=design,
        constants=_cycle_constants(locomotive.steam_passages, groups[0].stages[0]),
        design_steam_rate=full,
        throttle_area_ratio=assumptions.throttle_area_ratio,
        steam_rate_factor=_steam_rate_factor(locomotive, assumptions),
        min_cutoff=shortest,
        max_cutoff=longest,
        notes=(
            *valve_gear_notes(locomotive),
            *_front_end_notes(locomotive, design, assumptions),
            *_superheat_notes(temperature, assumptions),
            *notes,
        ),
    )


def _steam_passage_area(locomotive: Locomotive) -> float:
    """Flow area from boiler to steam chest of the whole engine [m²]: as given, or by the pistons it feeds."""
    given = locomotive.steam_passages.steam_passage_area
    if given is not None:
        return given
    fed = [
        cylinders
        for unit in locomotive.engine_units
        for cylinders in unit.cylinders
        if cylinders.steam_source == "boiler"
    ]
    pistons = sum(cylinders.number * 0.25 * math.pi * cylinders.bore**2 for cylinders in fed)
    return design_rules.PASSAGE_TO_PISTON_AREA * pistons


def _front_end_notes(locomotive: Locomotive, design: SteamSupply, assumptions: Assumptions) -> list[str]:
    """Name a nozzle set by rule, and warn if the fire requires more of the front end than it raises."""
    passages = locomotive.steam_passages
    notes = []
    if passages.nozzle_area is None:
        notes.append(
            f"exhaust nozzle not given: {format_opening(nozzle_area(locomotive))}, a usual share of the gas area, "
            "is assumed"
        )
    if passages.max_back_pressure is None:
        notes.append(
            f"highest back pressure not given: {format_pressure(assumptions.max_back_pressure)} is assumed"
        )
    if design.draft is not None:
        required = front_end(locomotive, design, assumptions).required_ratio
        if required > vacuum_ratio(locomotive):
            notes.append(
                f"at the front-end limit the fire requires a draft of {required:.3f} of the back pressure; the front "
                f"end raises {vacuum_ratio(locomotive):.3f} (plain {DRAFT_TO_BACK_PRESSURE_RATIO:.3f}, a good double "
                "stack about twice that)"
            )
    return notes


def _superheat_notes(temperature: float, assumptions: Assumptions) -> list[str]:
    """Warn if the steam temperature at full steam [K] is higher than any in practice."""
    if temperature <= assumptions.max_steam_temperature:
        return []
    return [
        f"steam temperature at full steam is {format_temperature(temperature)}, above the "
        f"{format_temperature(assumptions.max_steam_temperature)} that oil and packings withstand; "
        "look at boiler.superheater.surface"
    ]


def _cycle_constants(passages: SteamPassages, cylinder: Cylinder) -> CycleConstants:
    """Constants of the cycle, with leakage by the lap of the valve and the engine's own values where given."""
    leakage = design_rules.leakage_area_ratio(lap=cylinder.lap, stroke=cylinder.stroke)
    given = {name: getattr(passages, name, None) for name in CycleConstants._fields}
    return design_rules.FITTED_CONSTANTS._replace(leakage_area_ratio=leakage)._replace(
        **{name: value for name, value in given.items() if value is not None}
    )
