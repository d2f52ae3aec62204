"""Draft by the heat balance against that of a published engine."""

from __future__ import annotations

import numpy as np

from locosim.constants import ATMOSPHERE, FOOT, INCH, POUND_PER_SQUARE_FOOT_HOUR, PSI
from locosim.physics.boiler import draft as draft
from locosim.physics.boiler.barrel import TubeBank, barrel_by_dimensions
from locosim.physics.boiler.fuels import BITUMINOUS
from locosim.physics.boiler.heat_balance import heat_balance


def test_draft_of_the_engine_of_1865():
    # [Bourne1865]: 147 tubes of 1.75 in, 13 ft 10 in long, grate 9.5 ft2; 112 lb of coke per square foot
    # per hour is called a good proportion, and 3 to 6 in of water typical. Bore 1.53 in and firebox 60 ft2 are
    # assumed.
    tubes = TubeBank(count=147, outside_diameter=1.75 * INCH, inside_diameter=1.53 * INCH)
    barrel = barrel_by_dimensions(length=13.83 * FOOT, tubes=tubes, flues=None, elements=None)
    found = heat_balance(
        firing_rate=np.array([112 * POUND_PER_SQUARE_FOOT_HOUR * 9.5 * FOOT**2]),
        grate_area=9.5 * FOOT**2,
        firebox_surface=60 * FOOT**2,
        barrel=barrel,
        pressure=120 * PSI + ATMOSPHERE,
        feed_temperature=288.0,
        fuel=BITUMINOUS,
    )
    drop = draft.tube_pressure_drop(
        gas_rate=found.gas_rate,
        free_gas_area=barrel.free_gas_area,
        tube_length=13.83 * FOOT,
        tube_diameter=tubes.inside_diameter,
        gas_temperature=1000.0,
        roughness_factor=1.3,
    )
    vacuum = draft.required_draft(tube_drop=drop, tube_share_of_draft=draft.TUBE_SHARE_OF_DRAFT_OPEN_SMOKEBOX)
    assert 3.0 <= float(vacuum[0]) / draft.INCH_OF_WATER <= 6.0
