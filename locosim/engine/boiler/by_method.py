"""Choice of the method by which an engine is computed."""

from __future__ import annotations

from locosim.engine.boiler.by_handbook import handbook_supply
from locosim.engine.boiler.by_heat_balance import heat_balance_supply
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.errors import OutOfRange
from locosim.model import Assumptions, Crew, Fuel, Locomotive

METHODS = ("cycle", "handbook")


def check_method(method: str) -> None:
    """Refuse a method that is not known.

    Raises:
        OutOfRange: A method other than `cycle` and `handbook`.
    """
    if method not in METHODS:
        raise OutOfRange(f"method must be one of {', '.join(METHODS)}, found {method!r}")


def compute_steam_supply(
    locomotive: Locomotive,
    *,
    method: str,
    fuel: Fuel,
    crew: Crew,
    assumptions: Assumptions = Assumptions(),
) -> SteamSupply:
    """Compute the steam supply of an engine.

    Args:
        locomotive: The engine.
        method: `cycle`, which means the heat balance here, or `handbook`.
        fuel: What is burned.
        crew: Who fires it.
        assumptions: Assumed figures.

    Raises:
        OutOfRange: A method that is not known, a heating value the kind of fuel cannot have, or a boiler the heat
            balance cannot solve.
    """
    check_method(method)
    by = handbook_supply if method == "handbook" else heat_balance_supply
    return by(locomotive, fuel, crew, assumptions)
