"""The front end: exhaust nozzle, back pressure, and the draft it must raise.

The nozzle is a dimension; without one it is a usual share of the gas area. Its back pressure limits the boiler: the
limit of the front end is the evaporation at which the back pressure reaches the highest allowed. Solving instead for
the firing rate at which blast and fire balance is ill-conditioned: the draft required per back pressure hardly changes
with the rate, so a few per cent of front-end efficiency would move the limit by a third. The efficiency that the fire
then requires of the front end is computed and shown.
"""

from __future__ import annotations

import numpy as np

from locosim.engine.boiler.barrel import free_gas_area
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.frozen import frozen
from locosim.model import Assumptions, Locomotive
from locosim.physics.boiler import draft
from locosim.physics.cylinder.design_rules import NOZZLE_TO_GAS_AREA, nozzle_steam_rate

EXHAUST_HEATERS = ("exhaust_steam_injector", "pump_with_feedwater_heater")


def nozzle_area(locomotive: Locomotive) -> float:
    """Effective area of all exhaust nozzles [m²]: as given, or by the usual share of the gas area.

    A front end that raises more draft for its back pressure than a plain one is given a wider nozzle, since that is
    what it is built for. Draft and back pressure both go with the square of the steam, so the same fire is then drawn
    at the same steam by a nozzle wider as the square root of the gain.
    """
    given = locomotive.steam_passages.nozzle_area
    if given is not None:
        return given
    gain = vacuum_ratio(locomotive) / draft.DRAFT_TO_BACK_PRESSURE_RATIO
    return float(NOZZLE_TO_GAS_AREA * free_gas_area(locomotive.boiler) * np.sqrt(gain))


def nozzle_steam_share(locomotive: Locomotive, assumptions: Assumptions) -> float:
    """Share of the cylinders' exhaust that leaves by the nozzle; a feedwater heater takes the rest [1]."""
    heated = any(device.kind in EXHAUST_HEATERS for device in locomotive.feed_devices)
    return 1.0 - assumptions.heater_exhaust_share if heated else 1.0


def max_back_pressure(locomotive: Locomotive, assumptions: Assumptions) -> float:
    """Highest gauge back pressure at which the engine is worked [Pa]: as given, or the assumed one."""
    given = locomotive.steam_passages.max_back_pressure
    return assumptions.max_back_pressure if given is None else given


def front_end_evaporation(locomotive: Locomotive, assumptions: Assumptions) -> float:
    """Evaporation at which the back pressure reaches the highest allowed [kg/s], auxiliaries included.

    Args:
        locomotive: The engine.
        assumptions: Assumed figures; `max_back_pressure` and `heater_exhaust_share` apply.
    """
    exhaust = nozzle_steam_rate(
        area=nozzle_area(locomotive), back_pressure=max_back_pressure(locomotive, assumptions)
    )
    return exhaust / nozzle_steam_share(locomotive, assumptions) + locomotive.auxiliaries.continuous_demand


def vacuum_ratio(locomotive: Locomotive) -> float:
    """Smokebox vacuum over back pressure that the engine's front end raises [1]: as given, or that of a plain one."""
    given = locomotive.steam_passages.draft_to_back_pressure_ratio
    return draft.DRAFT_TO_BACK_PRESSURE_RATIO if given is None else given


@frozen
class FrontEnd:
    """Back pressure, and the draft it raises and must raise.

    Attributes:
        nozzle_area: Effective area of all exhaust nozzles [m²].
        max_back_pressure: Highest gauge back pressure [Pa].
        available_draft: Smokebox vacuum that the front end raises at that back pressure [Pa].
        required_draft: Smokebox vacuum that the fire requires at the front-end limit [Pa].
    """

    nozzle_area: float
    max_back_pressure: float
    available_draft: float
    required_draft: float

    @property
    def required_ratio(self) -> float:
        """Smokebox vacuum over back pressure that the fire requires [1]."""
        return self.required_draft / self.max_back_pressure


def front_end(locomotive: Locomotive, supply: SteamSupply, assumptions: Assumptions) -> FrontEnd:
    """The front end at its limit.

    Args:
        locomotive: The engine.
        supply: Its steam supply by the heat balance, with the draft required.
        assumptions: Assumed figures, as for `front_end_evaporation`.
    """
    assert supply.draft is not None
    back_pressure = max_back_pressure(locomotive, assumptions)
    rising = int(np.argmax(supply.steam)) + 1
    limit = front_end_evaporation(locomotive, assumptions)
    return FrontEnd(
        nozzle_area=nozzle_area(locomotive),
        max_back_pressure=back_pressure,
        available_draft=float(
            draft.available_draft(back_pressure=back_pressure, ratio=vacuum_ratio(locomotive))
        ),
        required_draft=float(np.interp(limit, supply.steam[:rising], supply.draft[:rising])),
    )
