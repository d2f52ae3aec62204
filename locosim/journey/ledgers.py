"""Ledgers of energy, heat, water and fuel, closed after every run."""

from __future__ import annotations

from locosim.frozen import frozen
from locosim.journey.kernel import arrays as r
from locosim.journey.kernel.arrays import InitialState, RunArrays

CLOSURE_TOLERANCE = 1e-9  # residual allowed, relative to throughput


@frozen
class Ledger:
    """Inflow, outflow and storage of one quantity.

    Attributes:
        name: The quantity, with its unit.
        entries: Items and amounts; positive is inflow, negative outflow.
        stored: Increase of the store.
        residual: Entries less increase, relative to throughput.
    """

    name: str
    entries: tuple[tuple[str, float], ...]
    stored: float
    residual: float


def close_ledger(name: str, stored: float, entries: dict[str, float], initial: float = 0.0) -> Ledger:
    """Close one ledger.

    Args:
        name: The quantity, with its unit.
        stored: Increase of the store.
        entries: Items and amounts.
        initial: Content of the store at first, which adds to the throughput: rounding errors grow with it.
    """
    throughput = sum(abs(amount) for amount in entries.values()) + abs(stored) + abs(initial)
    residual = (sum(entries.values()) - stored) / throughput if throughput > 0.0 else 0.0
    return Ledger(name=name, entries=tuple(entries.items()), stored=stored, residual=residual)


def close_ledgers(arrays: RunArrays, start: InitialState, *, transient: bool) -> tuple[Ledger, ...]:
    """Close all ledgers of a run.

    Args:
        arrays: Result of the kernel.
        start: State before the run.
        transient: Whether pressure and water were computed along the run.

    Raises:
        ArithmeticError: A ledger does not close to 1e-9 of its throughput; a bug of locosim.
    """
    water = arrays.nodes[r.BOILER_WATER, arrays.last_node] - start.water if transient else 0.0
    ledgers = [_energy_ledger(arrays), _water_ledger(arrays, start, water)]
    ledgers += [_tender_fuel_ledger(arrays, start), _grate_fuel_ledger(arrays, start), _ash_ledger(arrays)]
    if transient:
        ledgers += [_boiler_heat_ledger(arrays), _boiler_water_ledger(arrays, start, water)]
    for ledger in ledgers:
        if not abs(ledger.residual) <= CLOSURE_TOLERANCE:
            raise ArithmeticError(
                f"ledger of {ledger.name} does not close: {ledger.residual:.2e} of its throughput"
            )
    return tuple(ledgers)


def _energy_ledger(arrays: RunArrays) -> Ledger:
    sums = arrays.sums
    return close_ledger(
        "train energy [J]",
        arrays.final_energy,
        {
            "engine": sums[r.INDICATED_WORK],
            "helpers": sums[r.HELPER_WORK],
            "machine friction": -sums[r.FRICTION_WORK],
            "running resistance": -sums[r.RESISTANCE_WORK],
            "curves": -sums[r.CURVE_WORK],
            "gravity": -sums[r.GRAVITY_WORK],
            "brakes": -sums[r.BRAKE_WORK],
            "energy of the water and fuel used": -sums[r.USED_SUPPLIES_ENERGY],
        },
    )


def _water_ledger(arrays: RunArrays, start: InitialState, boiler_gain: float) -> Ledger:
    sums = arrays.sums
    return close_ledger(
        "water [kg]",
        arrays.nodes[r.WATER_ON_DEPARTURE, arrays.last_node] - start.tender_water + boiler_gain,
        {
            "taken en route": sums[r.WATER_TAKEN],
            "steam to the cylinders": -sums[r.CYLINDER_STEAM],
            "steam to auxiliaries": -sums[r.AUXILIARY_STEAM],
            "safety valves": -sums[r.SAFETY_VALVE_STEAM],
            "exhaust steam returned to the boiler, less pump steam": sums[r.RETURNED_EXHAUST],
        },
        start.tender_water,
    )


def _tender_fuel_ledger(arrays: RunArrays, start: InitialState) -> Ledger:
    sums = arrays.sums
    return close_ledger(
        "fuel in the tender [kg]",
        arrays.nodes[r.FUEL_ON_DEPARTURE, arrays.last_node] - start.tender_fuel,
        {"taken en route": sums[r.FUEL_TAKEN], "fired": -sums[r.FUEL_FIRED]},
        start.tender_fuel,
    )


def _grate_fuel_ledger(arrays: RunArrays, start: InitialState) -> Ledger:
    """Fuel on the grate; oil, and the fuel of a steady boiler, burns as it is fired."""
    sums = arrays.sums
    return close_ledger(
        "fuel on the grate [kg]",
        arrays.nodes[r.GRATE_FUEL, arrays.last_node] - start.bed,
        {
            "fired": sums[r.FUEL_FIRED],
            "burned": -sums[r.FUEL_BURNED],
            "dropped in cleaning the fire": -sums[r.FUEL_DROPPED],
        },
        start.bed,
    )


def _ash_ledger(arrays: RunArrays) -> Ledger:
    sums = arrays.sums
    return close_ledger(
        "ash on the grate [kg]",
        arrays.nodes[r.GRATE_ASH, arrays.last_node],
        {"in the fuel burned": sums[r.ASH_MADE], "dropped in cleaning the fire": -sums[r.ASH_DROPPED]},
    )


def _boiler_heat_ledger(arrays: RunArrays) -> Ledger:
    """Heat of the boiler, and that which the fuel on the grate has taken up and gives back in burning."""
    sums = arrays.sums
    return close_ledger(
        "boiler heat [J]",
        arrays.final_heat - arrays.initial_heat + arrays.final_bed_heat - arrays.initial_bed_heat,
        {
            "fire, with the heating of as much fuel as burned": sums[r.FIRE_HEAT],
            "feed": sums[r.FEED_HEAT],
            "steam": -sums[r.HEAT_IN_STEAM],
            "radiation loss": -sums[r.RADIATION_LOSS],
            "in the fuel dropped in cleaning the fire": -sums[r.DROPPED_HEAT],
        },
        arrays.initial_heat,
    )


def _boiler_water_ledger(arrays: RunArrays, start: InitialState, gain: float) -> Ledger:
    sums = arrays.sums
    return close_ledger(
        "boiler water [kg]",
        gain,
        {
            "feed": sums[r.FEED_WATER],
            "steam": -(sums[r.CYLINDER_STEAM] + sums[r.AUXILIARY_STEAM] + sums[r.SAFETY_VALVE_STEAM]),
        },
        start.water,
    )
