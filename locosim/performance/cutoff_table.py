"""What each cutoff gives and costs at one speed."""

from __future__ import annotations

from dataclasses import dataclass

from locosim.performance.engine import Performance


@dataclass(frozen=True, slots=True, kw_only=True)
class CutoffPoint:
    """One cutoff at one speed with the regulator open.

    Attributes:
        cutoff: Fraction of the stroke [1].
        indicated_pull: At the rim [N].
        wheel_pull: At the rim, less machine friction [N].
        indicated_power: [W].
        steam: Steam to the cylinders [kg/s].
        fuel: Fuel for that and the auxiliaries [kg/s]; held at the top of the table where the boiler cannot follow.
        back_pressure: Mean on the return stroke, above atmosphere [Pa].
        steam_share: Steam over what the boiler keeps up [1]; above 1 only for a short effort.
    """

    cutoff: float
    indicated_pull: float
    wheel_pull: float
    indicated_power: float
    steam: float
    fuel: float
    back_pressure: float
    steam_share: float

    @property
    def steam_per_work(self) -> float:
        """Steam over indicated work [kg/J]."""
        return self.steam / self.indicated_power if self.indicated_power > 0.0 else float("inf")


def cutoff_table(
    performance: Performance, *, speed: float, cutoffs: tuple[float, ...] = ()
) -> tuple[CutoffPoint, ...]:
    """What each cutoff gives and costs at one speed and full boiler pressure.

    Args:
        performance: The engine.
        speed: Train speed [m/s].
        cutoffs: Cutoffs wanted [1]; left out, each 5 % between the shortest and the longest of the gear.

    Returns:
        One point per cutoff.

    Raises:
        OutOfRange: A speed or cutoff beyond the map.
    """
    charts, engine = performance.map, performance.locomotive
    pressure = engine.boiler.absolute_pressure
    if not cutoffs:
        first, last = float(charts.cutoffs[0]), float(charts.cutoffs[-1])
        inner = [0.05 * n for n in range(1, 20) if first + 1e-6 < 0.05 * n < last - 1e-6]
        cutoffs = (first, *inner, last)
    points = []
    for cutoff in cutoffs:
        pull = charts.pull_at(speed=speed, cutoff=cutoff, pressure=pressure)
        steam = charts.steam_at(speed=speed, cutoff=cutoff, pressure=pressure)
        drawn = steam + engine.auxiliaries.steady
        points.append(
            CutoffPoint(
                cutoff=cutoff,
                indicated_pull=pull,
                wheel_pull=pull - charts.friction,
                indicated_power=pull * speed,
                steam=steam,
                fuel=performance.supply.fuel_for(drawn),
                back_pressure=charts.back_pressure_at(speed=speed, cutoff=cutoff, pressure=pressure),
                steam_share=drawn / performance.supply.sustained,
            )
        )
    return tuple(points)
