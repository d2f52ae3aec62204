"""Supplies that do not run out: a run that goes on with a tank that is empty and less than empty."""

from __future__ import annotations

from dataclasses import replace

from locosim.constants import GRAVITY
from locosim.journey.setup.prepare import PreparedRun

# Water, and as much fuel, added to the tender and taken off the train [kg].
ADDED_SUPPLY = 5e5


def with_endless_supplies(prepared: PreparedRun) -> PreparedRun:
    """The run with so much water and fuel that none runs out.

    The added supplies are taken off the mass, weight and resistance of the rest of the train, so that nothing else
    changes: the level in the tender is that of the run less `ADDED_SUPPLY`, and may be below zero.
    """
    line, load, start = prepared.line, prepared.load, prepared.start
    both = 2.0 * ADDED_SUPPLY
    return replace(
        prepared,
        line=line._replace(gravity=line.gravity - both * GRAVITY * line.grade),
        load=load._replace(
            mass=load.mass - both,
            a=load.a - both * load.a_contents,
            b=load.b - both * load.b_contents,
        ),
        start=start._replace(
            tender_water=start.tender_water + ADDED_SUPPLY,
            tender_water_full=start.tender_water_full + ADDED_SUPPLY,
            tender_fuel=start.tender_fuel + ADDED_SUPPLY,
            tender_fuel_full=start.tender_fuel_full + ADDED_SUPPLY,
        ),
    )
