"""Heat balance of the boiler against published evaporation, efficiency and superheat."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np

from locosim.constants import FOOT, HOUR, POUND, POUND_PER_SQUARE_FOOT_HOUR, ZERO_CELSIUS
from locosim.engine.boiler.barrel import barrel_of
from locosim.engine.boiler.by_heat_balance import boiler_radiation_loss
from locosim.model import Boiler
from locosim.physics.boiler.barrel import Barrel, Passage
from locosim.physics.boiler.evaporation import GOSS_LINES, goss_evaporation_per_coal
from locosim.physics.boiler.fuels import BITUMINOUS, FuelProperties
from locosim.physics.boiler.heat_balance import HeatBalance, heat_balance
from locosim.physics.steam import properties

from . import fit_rows
from .comparison import COAL, EVAPORATION, MAX_EVAPORATION, TEMPERATURE, Comparison, Grid, Section
from .engines import engine
from .purdue import SUPERHEATER, SUPERHEATS, purdue, rates
from .running import performance, supply_of
from .tables import rows_of

FEED = ZERO_CELSIUS + (60.0 - 32.0) / 1.8
PURDUE_GAS_AREA = (
    3.41 * FOOT**2
)  # 200 tubes of 2 in outside and 1.77 in inside, from memory, uncertain; assumed
PURDUE_SURFACE = 1322.0 * FOOT**2  # [Goss1907], from memory
SURFACE_RATES = (4.0, 6.0, 8.0, 10.0, 12.0, 14.0)  # [lb/(ft2 h)] from and at 212 degF


def balance_at(
    boiler: Boiler,
    pounds: np.ndarray,
    *,
    gas_area: float | None = None,
    radiation_loss: float | None = None,
    fuel: FuelProperties = BITUMINOUS,
) -> HeatBalance:
    """Heat balance over firing rates in pounds of coal a square foot of grate an hour.

    Radiation loss is that of the boiler's outside surface unless given.
    """
    return heat_balance(
        firing_rate=np.asarray(pounds, dtype=float) * POUND_PER_SQUARE_FOOT_HOUR * boiler.grate_area,
        grate_area=boiler.grate_area,
        firebox_surface=boiler.firebox_surface,
        barrel=barrel_of(boiler) if gas_area is None else with_gas_area(barrel_of(boiler), gas_area),
        pressure=boiler.absolute_pressure,
        feed_temperature=FEED,
        fuel=fuel,
        radiation_loss=boiler_radiation_loss(boiler) if radiation_loss is None else radiation_loss,
    )


def with_gas_area(barrel: Barrel, area: float) -> Barrel:
    """Tubes and flues with another free gas area [m²], divided in the same proportion."""
    factor = area / barrel.free_gas_area

    def scaled(passage: Passage | None) -> Passage | None:
        return None if passage is None else replace(passage, area=factor * passage.area)

    return replace(barrel, tubes=scaled(barrel.tubes), flues=scaled(barrel.flues))


def of_engine(name: str, pounds: np.ndarray) -> HeatBalance:
    """Heat balance of a published engine's boiler."""
    return balance_at(engine(name).locomotive.boiler, pounds)


@lru_cache
def goss_line(
    *, superheated: bool, fuel: FuelProperties = BITUMINOUS, radiation_loss: float | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Evaporation per dry coal of the Purdue boiler at `SURFACE_RATES`: computed, and by the published line."""
    boiler = purdue(pressure_psi=160, superheated=superheated).boiler
    surface = PURDUE_SURFACE + (SUPERHEATER if superheated else 0.0)
    found = balance_at(
        boiler, np.linspace(12, 150, 60), gas_area=PURDUE_GAS_AREA, fuel=fuel, radiation_loss=radiation_loss
    )
    per_coal = found.equivalent_evaporation / (1.0 - fuel.moisture)
    per_surface = found.equivalent_evaporation * found.firing_rate / surface / (POUND / FOOT**2 / HOUR)
    line = GOSS_LINES["superheated_1910" if superheated else "saturated_1907"]
    rates = np.array(SURFACE_RATES)
    published = goss_evaporation_per_coal(
        line=line, evaporation_per_surface=rates * POUND_PER_SQUARE_FOOT_HOUR
    )
    return np.interp(rates, per_surface, per_coal), np.asarray(published)


@lru_cache
def evaporation() -> Section:
    """Evaporation per mass of coal over the firing rate."""
    comparisons = []
    for name, label in (("nyc_j3a", "J-3a"), ("prr_k4s", "K4s"), ("nyc_j1", "J-1"), ("prr_i1s", "I1s")):
        found = of_engine(name, np.array([50.0, 200.0])).evaporation
        for pounds, computed, published in zip((50, 200), found, (7.5, 5.0), strict=True):
            comparisons.append(
                _evaporation(
                    f"American boilers in general, computed for the {label}, {pounds} lb/ft² h", computed, published,
                    "Bruce1952", "read", row=fit_rows.evaporation(name, pounds), engine=name,
                )
            )  # fmt: skip
    lms = of_engine("lms_coronation", np.array([130.0]))
    comparisons.append(
        _evaporation(
            "LMS rating, 130 lb/ft² h",
            lms.evaporation[0],
            6.15,
            "LMSRating",
            "read",
            row=fit_rows.evaporation("lms_coronation", 130),
            engine="lms_coronation",
        )
    )
    hand = of_engine("br_7", np.array([3000.0 / 42.0]))
    comparisons.append(
        _evaporation(
            "British practice, 3,000 lb/h hand fired, 42 ft² of grate assumed", hand.evaporation[0], 23.0 / 3.0,
            "NatPres", "read", engine="br_7", remark="22,000 to 24,000 lb/h: 7.33 to 8.00",
        )
    )  # fmt: skip
    for superheated in (False, True):
        computed, published = goss_line(superheated=superheated)
        kind, key = ("superheated", "Goss1910") if superheated else ("saturated", "Goss1907")
        for rate, one, line in zip(SURFACE_RATES, computed, published, strict=True):
            comparisons.append(
                _evaporation(
                    f"Purdue {kind}, {rate:.0f} lb/ft² h of surface, from and at 212 °F", one, line, key,
                    "from memory", row=fit_rows.evaporation(f"Purdue {kind}", rate), engine="purdue",
                )
            )  # fmt: skip
    return Section(
        title="Evaporation per pound of coal",
        text=(
            "The coal is not stated for any of these: bituminous coal of 13,500 Btu/lb as fired "
            "is assumed, with feed at 60 °F. The first rows are for American boilers in general "
            "and are computed for four of them. The Purdue rows are from and at 212 °F per pound "
            "of dry coal, against evaporation per square foot of heating surface; 200 tubes and, "
            "in the superheated form, 193 ft² of superheater with the same heating surface are "
            "assumed.",
        ),
        comparisons=tuple(comparisons),
        after=(_trial(),),
        plot="evaporation",
        plot_says="Evaporation per pound of coal over firing rate with published points, and the Purdue lines",
    )


def _evaporation(
    case: str,
    computed: float,
    published: float,
    source: str,
    status: str,
    *,
    engine: str,
    row: str = "",
    remark: str = "",
) -> Comparison:
    return Comparison(
        case=case,
        computed=float(computed),
        published=float(published),
        unit="lb/lb",
        source=source,
        status=status,
        digits=".2f",
        judged=EVAPORATION,
        row=row,
        engine=engine,
        remark=remark,
    )


def _trial() -> str:
    """Firing rates that give the evaporations of the coal trial of 1921."""
    rates = np.linspace(20, 200, 91)
    made = of_engine("gwr_castle", rates).evaporation
    at = [float(np.interp(-value, -made, rates)) for value in (7.88, 6.49)]
    return (
        "The North Eastern coal trial of 1921 gives 7.88 lb of water per lb of Northumberland "
        "coal and 6.49 per lb of Scotch coal ([Grassick1921], read), without heating value, "
        "engine or firing rate: too little to compute. For scale, a boiler like the Castle's "
        f"gives 7.88 at {at[0]:.0f} and 6.49 at {at[1]:.0f} lb/ft² h with the coal assumed "
        "here."
    )


@lru_cache
def efficiency() -> Section:
    """Efficiency, superheat and maximum evaporation."""
    comparisons = [*_efficiencies(), *_steam_temperatures()]
    comparisons += [
        _purdue_superheat(pressure, kelvin) for pressure, kelvin in zip((120, 240), SUPERHEATS, strict=True)
    ]
    comparisons += [_max_evaporation("br_7", 31_000.0), _max_evaporation("br_9f", 29_000.0)]
    return Section(
        title="Efficiency, superheat and maximum evaporation",
        text=(
            "All from memory with low confidence, for information only. The steam temperatures "
            "are remembered for low and high rates; 30 and 120 lb/ft² h are assumed. The maximum "
            "evaporation of the two British boilers is compared with the limit of fire and draft, "
            "without the fireman's limit. The elements of a superheater radiate to the flue around them; the printed "
            "steam temperatures of two large superheaters are still too low for the law that serves the Type A "
            "superheater (see *Steam temperatures of large superheaters*).",
        ),
        comparisons=tuple(comparisons),
        grids=(_over_firing_rate(),),
        plot="efficiency",
        plot_says="Boiler efficiency and steam temperature over the firing rate",
    )


def _efficiencies() -> Iterator[Comparison]:
    """Efficiency of one boiler at four firing rates."""
    rates = (30, 70, 110, 150)
    found = of_engine("prr_k4s", np.array(rates, float))
    for pounds, computed, published in zip(rates, found.efficiency, (0.80, 0.70, 0.60, 0.50), strict=True):
        yield Comparison(
            case=f"efficiency at {pounds} lb/ft² h (boiler of the K4s)",
            computed=100 * float(computed),
            published=100 * published,
            unit="%",
            digits=".0f",
            source="BuilderFigures",
            status="from memory, low",
            row=fit_rows.efficiency(pounds),
        )


def _steam_temperatures() -> Iterator[Comparison]:
    """Steam temperature of one boiler at a low and a high firing rate."""
    ends = of_engine("prr_k4s", np.array([30.0, 120.0])).steam_temperature
    for pounds, kelvin, published in zip((30, 120), ends, (560.0, 660.0), strict=True):
        yield Comparison(
            case=f"steam temperature, Type A superheater, {pounds} lb/ft² h (boiler of the K4s)",
            computed=1.8 * (float(kelvin) - ZERO_CELSIUS) + 32.0,
            published=published,
            unit="°F",
            source="BuilderFigures",
            status="from memory, low",
            judged=TEMPERATURE,
            row=fit_rows.temperature(pounds),
            engine="prr_k4s",
        )


def _over_firing_rate() -> Grid:
    """One boiler over the firing rate."""
    table = of_engine("nyc_j3a", np.array([20.0, 40.0, 60.0, 80.0, 100.0, 120.0, 150.0, 180.0, 220.0]))
    rows = tuple(
        (
            f"{rate / POUND_PER_SQUARE_FOOT_HOUR / (82 * FOOT**2):.0f}",
            f"{100 * table.efficiency[i]:.0f} %",
            f"{table.evaporation[i]:.2f}",
            f"{table.steam_rate[i] / POUND * HOUR / 82:,.0f}",
            f"{1.8 * (table.steam_temperature[i] - ZERO_CELSIUS) + 32:.0f} °F",
            f"{1.8 * (table.smokebox_temperature[i] - ZERO_CELSIUS) + 32:.0f} °F",
            f"{100 * table.unburned[i] / table.heat_fired[i]:.0f} %",
        )
        for i, rate in enumerate(table.firing_rate)
    )
    heads = (
        "coal [lb/ft² h]", "efficiency", "steam per coal [lb/lb]", "steam [lb/ft² h]", "steam temperature",
        "smokebox temperature", "unburned coal",
    )  # fmt: skip
    return Grid(heads=heads, rows=rows, caption="Boiler of the J-3a over the firing rate")


def _purdue_superheat(pressure: int, published: float) -> Comparison:
    """Superheat of the Purdue boiler, whose superheater is small; published in the summary of the trials."""
    boiler = purdue(pressure_psi=pressure, superheated=True).boiler
    found = balance_at(boiler, np.array([80.0]), gas_area=PURDUE_GAS_AREA)
    boiling = properties.saturation_temperature(pressure=boiler.absolute_pressure)
    return Comparison(
        case=f"superheat at Purdue, {pressure} psi, 80 lb/ft² h assumed",
        computed=1.8 * (float(found.steam_temperature[0]) - boiling),
        published=1.8 * published,
        unit="°F",
        digits=".0f",
        source="Goss1910",
        status="from memory",
        engine="purdue",
        remark="superheater surface assumed",
    )


def _max_evaporation(name: str, published: float) -> Comparison:
    """Maximum evaporation of a British boiler, without the fireman's limit."""
    perf = performance(name)
    supplied, by = supply_of(perf, forced=True)
    grate = perf.locomotive.boiler.grate_area / FOOT**2
    made = (supplied + perf.locomotive.auxiliaries.continuous_demand) / POUND * HOUR
    return Comparison(
        case=f"{perf.locomotive.name}, maximum evaporation",
        computed=made,
        published=published,
        unit="lb/h",
        source="BuilderFigures",
        status="from memory, low to medium",
        judged=MAX_EVAPORATION,
        engine=name,
        remark=f"{by}; {made / grate:.0f} lb/ft² h",
    )


@lru_cache
def purdue_coal() -> Section:
    """Dry coal per indicated horsepower-hour of the Purdue engine: cycle and boiler combined."""
    comparisons = []
    for superheated in (False, True):
        kind, key = ("superheated", "Goss1910") if superheated else ("saturated", "Goss1907")
        for row in rows_of("purdue_pressures"):
            pressure = int(row["boiler_pressure_psi"])
            found = rates(pressure_psi=pressure, superheated=superheated)
            per_steam, inside = _dry_coal_per_steam(found.steam, pressure=pressure, superheated=superheated)
            comparisons.append(
                Comparison(
                    case=f"Purdue, {kind}, {pressure} psi",
                    computed=float(np.mean(per_steam * found.rates[inside])),
                    published=float(row[f"coal_{kind}"]),
                    unit="lb/ihp h",
                    source=key,
                    status="from memory",
                    digits=".2f",
                    judged=COAL,
                    engine="purdue",
                    remark=""
                    if inside.all()
                    else f"{inside.sum()} of {inside.size} points within the boiler",
                )
            )
    return Section(
        title="Coal of the Purdue engine: cylinders and boiler combined",
        text=(
            "Dry coal per indicated horsepower-hour, from the same memory as the steam rates "
            "above. Computed over the same speeds and cutoffs: steam from the cycle, and the coal "
            "that the heat balance needs for it. The coal is not stated; 13,500 Btu/lb as fired "
            "is assumed. Neither cycle nor boiler was fitted to these figures. At low pressure "
            "the same cutoffs give less power and a lower firing rate, whereas the trials may "
            "have kept the power constant; the computed coal therefore hardly rises there.",
        ),
        comparisons=tuple(comparisons),
    )


def _dry_coal_per_steam(
    steam: np.ndarray, *, pressure: int, superheated: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Dry coal per steam at the points the Purdue boiler can supply, and which points these are."""
    balance = balance_at(
        purdue(pressure_psi=pressure, superheated=superheated).boiler,
        np.linspace(12, 220, 80),
        gas_area=PURDUE_GAS_AREA,
    )
    rising = slice(0, int(np.argmax(balance.steam_rate)) + 1)
    inside = steam <= balance.steam_rate.max()
    fired = np.interp(steam[inside], balance.steam_rate[rising], balance.firing_rate[rising])
    return fired * (1.0 - BITUMINOUS.moisture) / steam[inside], inside
