"""Fuel that a run costs: what it burned, and what brings the boiler back to the heat it began with."""

from __future__ import annotations

from locosim.journey.result import Journey


def fuel_cost(journey: Journey) -> float:
    """Fuel burned, and what makes up for the heat the boiler lost from beginning to end [kg].

    Two ways to drive leave the boiler at different pressure and water level; without this, one that ends with a low
    boiler would seem to save fuel. Heat is turned into fuel at the mean of the run.
    """
    heat = next((ledger for ledger in journey.ledgers if ledger.name.startswith("boiler heat")), None)
    burned = journey.fuel_burned
    if heat is None or burned <= 0.0:
        return float(burned)
    fire = next(amount for item, amount in heat.entries if item.startswith("fire"))
    return float(burned - heat.stored * burned / fire) if fire > 0.0 else float(burned)
