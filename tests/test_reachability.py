"""Every physics function is used by a command or the library, or is listed with the reason it is kept."""

from __future__ import annotations

from reachability import physics_functions, reached, unreached

LOADS = "published rules of thumb: the tests hold the load that a pull hauls against them"
MOMENTUM = "published rules of thumb: the tests hold velocity heads and entry speeds against them"
ROUTE = "the answer on a route: speeds that its curves and its track allow"
VALIDATION = "the validation page compares the cycle or the boiler with it"
YARDSTICK = "the tests measure the property table and the nozzle flow, which the cycle runs on, with it"
KEPT = {
    "boiler.evaporation:goss_evaporation_per_coal": VALIDATION,
    "boiler.heat_balance:HeatBalance.equivalent_evaporation": VALIDATION,
    "traction.adhesion:adhesion_speed_factors": "the pictures draw the limit of adhesion with it",
    "operation.braking:max_speed_by_brakes": "the answers on loads: speed by the mass per working brake",
    "cylinder.valve_gear:valve_travel": YARDSTICK,
    "operation.superelevation:radius_of_curve": ROUTE,
    "operation.superelevation:track_class_speeds": ROUTE,
    "operation.momentum:accelerating_force": MOMENTUM,
    "operation.momentum:kinetic_energy": MOMENTUM,
    "operation.momentum:momentum_run": MOMENTUM,
    "operation.momentum:rotating_mass": MOMENTUM,
    "operation.momentum:speed_after_rise": MOMENTUM,
    "operation.tonnage:adhesion_required_on_grade": LOADS,
    "operation.tonnage:army_drawbar_pull": LOADS,
    "operation.tonnage:net_train_load": LOADS,
    "operation.tonnage:ruling_grade": LOADS,
    "traction.machine_friction:cole_1914": VALIDATION,
    "steam.properties:density": YARDSTICK,
    "steam.properties:enthalpy_at_entropy": YARDSTICK,
    "steam.properties:entropy": YARDSTICK,
    "steam.properties:internal_energy": YARDSTICK,
    "steam.properties:specific_volume": YARDSTICK,
    "steam.properties:vapor_energy": YARDSTICK,
    "traction.mean_pressure:max_power_saturated": VALIDATION,
    "traction.mean_pressure:max_power_superheated": VALIDATION,
    "traction.mean_pressure:mean_effective_pressure_clark": VALIDATION,
}


def test_unused_physics_is_listed_with_its_reason() -> None:
    missing = set(unreached()) - set(KEPT)
    assert not missing, "delete these, or list them in KEPT with the reason they are kept"


def test_listed_physics_exists_and_is_unused() -> None:
    wrong = set(KEPT) - set(unreached())
    assert not wrong, "a command uses these now, or they are gone: remove them from KEPT"


def test_the_list_is_short() -> None:
    assert len(KEPT) < 0.15 * len(physics_functions())


def test_the_walk_finds_what_the_commands_use() -> None:
    """The walk reaches the core of the simulation, also through tables of laws and methods."""
    for node in (
        ("locosim.physics.cylinder.solver", "converge_point"),
        ("locosim.physics.boiler.heat_balance", "heat_balance"),
        ("locosim.physics.boiler.heat_balance", "HeatBalance.residual"),
        ("locosim.physics.resistance.american", "schmidt_1910"),
        ("locosim.physics.resistance.starting", "starting_resistance"),
        ("locosim.physics.traction.adhesion", "curtius_kniffler"),
        ("locosim.physics.boiler.water_level", "level_at_midlength"),
    ):
        assert node in reached(), node
    assert ("locosim.physics.operation.tonnage", "ruling_grade") not in reached()


if __name__ == "__main__":
    print(len(physics_functions()), "physics functions,", len(unreached()), "used by no command")
    print(*unreached(), sep="\n")
