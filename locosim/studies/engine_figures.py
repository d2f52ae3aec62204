"""Figures of one engine, each computed only when it is asked for."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from locosim.engine.boiler.boiler_table import BoilerPoint, boiler_table
from locosim.engine.boiler.by_heat_balance import make_fuel
from locosim.engine.boiler.by_method import compute_steam_supply
from locosim.engine.boiler.steam_supply import SteamSupply
from locosim.engine.cutoff_table import CutoffPoint, cutoff_table, locomotive_valve_events
from locosim.engine.cylinders.operating_points import OperatingPoints, operating_points
from locosim.engine.cylinders.speed_range import max_cycle_speed, min_cycle_speed
from locosim.engine.map.performance_map import outside_map_error
from locosim.engine.own_resistance import engine_resistance_at_speed, machine_friction_at_no_effort
from locosim.engine.performance import Performance, compute_performance, cycle_layout
from locosim.engine.plausibility import naming_implausible_inputs
from locosim.engine.speed_curve import USUAL_SPEED, CurvePoint, curve_point, evenly_spaced_speeds, speed_curve
from locosim.errors import LocosimError
from locosim.frozen import frozen
from locosim.model import Assumptions, Crew, Fuel, Locomotive
from locosim.physics.traction.machine_friction import machine_friction

PEAK_STEPS = 60  # speeds at which the highest power is sought


@frozen
class EngineConditions:
    """Under what an engine is computed.

    Attributes:
        speed: Train speed [m/s].
        cutoff: Cutoff as the lever is set [1]; None where no column needs it.
        throttle: Throttle opening, above 0 to 1 [1].
        rail: Rail condition.
        fuel: Kind of fuel; None for the engine's usual one.
        heating_value: Gross heating value as fired [J/kg]; None for the published value.
        method: `cycle` or `handbook`.
    """

    speed: float = USUAL_SPEED
    cutoff: float | None = None
    throttle: float = 1.0
    rail: str = "dry"
    fuel: str | None = None
    heating_value: float | None = None
    method: str = "cycle"


class EngineFigures:
    """Figures of one engine, each computed once, when it is first asked for.

    The map of an engine takes seconds to compute, and what a cutoff gives is read from the cycle without it.
    """

    def __init__(
        self, locomotive: Locomotive, conditions: EngineConditions, assumptions: Assumptions = Assumptions()
    ) -> None:
        """Take an engine and its conditions.

        Args:
            locomotive: The engine.
            conditions: Speed, cutoff, rail and fuel.
            assumptions: Assumed figures.
        """
        self.locomotive = locomotive
        self.conditions = conditions
        self.assumptions = assumptions

    @cached_property
    def fuel(self) -> Fuel:
        """What is burned."""
        wanted = self.conditions
        return make_fuel(self.locomotive, kind=wanted.fuel, heating_value=wanted.heating_value)

    @cached_property
    def supply(self) -> SteamSupply:
        """Steam of the boiler."""
        return compute_steam_supply(
            self.locomotive,
            method=self.conditions.method,
            fuel=self.fuel,
            crew=Crew(),
            assumptions=self.assumptions,
        )

    @cached_property
    def boiler(self) -> BoilerPoint:
        """The boiler at its sustained evaporation."""
        table = boiler_table(
            self.locomotive,
            method=self.conditions.method,
            fuel=self.fuel,
            firing_rates=[self.supply.max_firing / self.locomotive.boiler.grate_area],
            assumptions=self.assumptions,
        )
        return table.forced[0].point

    @cached_property
    def performance(self) -> Performance:
        """The engine with its map."""
        return compute_performance(
            self.locomotive, method=self.conditions.method, fuel=self.fuel, assumptions=self.assumptions
        )

    @cached_property
    def start(self) -> CurvePoint:
        """The engine at rest in full gear."""
        return curve_point(self.performance, 0.0, self.conditions.rail)

    @cached_property
    def sustained(self) -> CurvePoint:
        """Most the engine sustains at the speed."""
        return curve_point(self.performance, self.conditions.speed, self.conditions.rail)

    @cached_property
    def curve(self) -> tuple[CurvePoint, ...]:
        """Most the engine sustains at every speed."""
        top = evenly_spaced_speeds(self.performance, self.performance.map.max_speed / PEAK_STEPS)
        return speed_curve(self.performance, speeds=top, rail=self.conditions.rail)

    @cached_property
    def at_cutoff(self) -> CutoffPoint:
        """The engine at the speed, cutoff and throttle opening of its conditions.

        Raises:
            LocosimError: No cutoff is given, or the engine cannot be computed there.
        """
        wanted = self.conditions
        if wanted.cutoff is None:
            raise LocosimError('needs a cutoff; write --cutoff "30 %", or vary it as "cutoff=20:50:5 %"')
        if wanted.method == "cycle" and wanted.speed >= min_cycle_speed(self.locomotive):
            return self._by_cycle(wanted.cutoff)
        (point,) = cutoff_table(
            self.performance, speed=wanted.speed, cutoffs=(wanted.cutoff,), throttle=wanted.throttle
        )
        return point

    @cached_property
    def mean_pressure(self) -> float | None:
        """Mean effective pressure of the first set of cylinders at that cutoff [Pa]; None by the handbook."""
        if self.conditions.method != "cycle":
            return None
        assert self.at_cutoff is not None
        return float(self._operating_point.mean_pressure[0])

    @cached_property
    def cheapest(self) -> CutoffPoint:
        """The cutoff with the least steam per work at the speed, with the throttle wide open."""
        points = cutoff_table(self.performance, speed=self.conditions.speed)
        return min(points, key=lambda point: point.steam_per_work)

    @cached_property
    def _operating_point(self) -> OperatingPoints:
        wanted = self.conditions
        with naming_implausible_inputs(self.locomotive):
            return operating_points(
                cycle_layout(self.locomotive, self.assumptions),
                speeds=np.array([wanted.speed]),
                cutoffs=np.array([wanted.cutoff]),
                pressures=self.locomotive.boiler.absolute_pressure,
                throttle=wanted.throttle,
            )

    def _by_cycle(self, cutoff: float) -> CutoffPoint:
        """The point by the cycle, without the map of the engine."""
        wanted, engine = self.conditions, self.locomotive
        layout = cycle_layout(engine, self.assumptions)
        top = max_cycle_speed(engine)
        if not wanted.speed <= top * (1 + 1e-9):
            raise outside_map_error("speed", wanted.speed, 0.0, top)
        if not layout.min_cutoff * (1 - 1e-9) <= cutoff <= layout.max_cutoff * (1 + 1e-9):
            raise outside_map_error("cutoff", cutoff, layout.min_cutoff, layout.max_cutoff)
        found = self._operating_point
        effort, steam = float(found.effort[0]), float(found.steam[0])
        friction = machine_friction(
            at_no_effort=machine_friction_at_no_effort(engine, self.assumptions),
            thrust_share=self.assumptions.machine_friction_share,
            effort=effort,
        )
        demand = steam + engine.auxiliaries.continuous_demand
        return CutoffPoint(
            speed=wanted.speed,
            throttle=wanted.throttle,
            cutoff=cutoff,
            indicated_effort=effort,
            rim_effort=effort - friction,
            steam=steam,
            fuel=self.supply.firing_rate_for(demand),
            steam_share=demand / self.supply.sustained,
            back_pressure=float(found.back_pressure[0]),
            chest_pressure=float(found.chest_pressure[0]),
            wall_condensation_share=float(found.wall_condensation_share[0]),
            events=locomotive_valve_events(engine, cutoff),
        )

    @property
    def drawbar_pull_at_cutoff(self) -> float:
        """Pull behind the tender at that cutoff on straight level track [N]."""
        return self.at_cutoff.rim_effort - engine_resistance_at_speed(self.locomotive, self.conditions.speed)

    def event(self, name: str) -> float | None:
        """A valve event at the cutoff, an attribute of `ValveEvents`; None where the engine has none."""
        events = self.at_cutoff.events
        return None if events is None else getattr(events, name)
