"""Valve events and stored heat: published examples that locosim has functions for."""

from __future__ import annotations

from functools import lru_cache

from locosim.constants import ATMOSPHERE, FOOT, INCH, POUND, PSI
from locosim.physics.cylinder.valve_gear import full_gear_cutoff, mid_gear_cutoff, valve_events, valve_travel
from locosim.physics.steam import properties as steam

from .comparison import Comparison, Section

STROKE = 24.0  # [in]
ROD_RATIO = 7.5  # assumed
LEAD_ASSUMED = "lead 1/4 in assumed"
BOILER_HORSEPOWER_MINUTE = 30.0 * POUND / 60.0  # [kg] of steam, 30 lb an hour [Babcock1919]


@lru_cache
def valves() -> Section:
    """Valve events of a fast passenger engine of the 1880s."""
    full = full_gear_cutoff(lap=1 * INCH, lead=INCH / 16, travel=5 * INCH)
    front, back = valve_events(
        cutoff=full, lap=1 * INCH, lead=INCH / 16, exhaust_lap=0.0, rod_ratio=ROD_RATIO
    )
    hooked = valve_events(
        cutoff=6 / STROKE, lap=1 * INCH, lead=0.25 * INCH, exhaust_lap=0.0, rod_ratio=ROD_RATIO
    )

    def inches(values: tuple[float, float]) -> float:
        return STROKE * sum(values) / 2

    events = (
        ("full gear, cutoff", inches((front.cutoff, back.cutoff)), 18.0, 2.0, ""),
        ("full gear, release", inches((front.release, back.release)), 22.0, 2.0, ""),
        ("hooked up to 6 in, release", inches((hooked[0].release, hooked[1].release)), 16.0, 2.0, LEAD_ASSUMED),
        (
            "hooked up to 6 in, compression", STROKE - inches((hooked[0].compression, hooked[1].compression)), 16.0,
            2.0, LEAD_ASSUMED,
        ),
    )  # fmt: skip
    return Section(
        title="Valve events",
        text=(
            "A fast engine with 5 in valve travel, 1 in lap, 1/16 in lead, line-and-line exhaust "
            "and 24 in stroke ([Sinclair1888], read; \"about\", as observed on a link gear). Means "
            "of both ends; a connecting rod of 7.5 crank lengths is assumed. Two inches are "
            "allowed, a twelfth of the stroke.",
        ),
        comparisons=tuple(
            Comparison(
                case=case, computed=computed, published=published, unit="in", digits=".1f", source="Sinclair1888",
                status="read", absolute=within, remark=remark,
            )
            for case, computed, published, within, remark in events
        ),
    )  # fmt: skip


# Class data from memory [BuilderFigures]: travel, lap and lead in inches, full-gear cutoff in percent.
REAL_GEARS = {
    "BR class 7": (7.75, 1.6875, 0.25, 78.0),
    "LMS class 5": (6.5, 1.5, 0.25, 75.0),
    "LNER A4, outside": (5.75, 1.625, 0.125, 65.0),
    "LNER A1 of 1922": (4.5625, 1.25, 0.1875, 65.0),
}
GOLSDORF_LEAD = 0.008  # [m]; 8 to 9 mm printed


@lru_cache
def real_gears() -> Section:
    """Cutoffs and port opening of gears whose lap, lead and travel are known."""
    lap = 4.0 * GOLSDORF_LEAD
    middle = mid_gear_cutoff(lap=lap, lead=GOLSDORF_LEAD)
    opening = valve_travel(cutoff=0.30, lap=lap, lead=GOLSDORF_LEAD) / 2.0 - lap
    front, back = valve_events(
        cutoff=17.5 / STROKE, lap=1 * INCH, lead=0.1 * INCH, exhaust_lap=0.0, rod_ratio=ROD_RATIO
    )
    rows = [
        (f"{name}, full-gear cutoff",
         100 * full_gear_cutoff(lap=lap_in * INCH, lead=lead_in * INCH, travel=travel_in * INCH),
         percent, "%", 1.0, "BuilderFigures", "from memory", "")
        for name, (travel_in, lap_in, lead_in, percent) in REAL_GEARS.items()
    ]  # fmt: skip
    rows += [
        ("Walschaerts gear of 1896, mid-gear cutoff", 100 * middle, 10.0, "%", 1.0, "DinglerGolsdorf1896", "read",
         "lap four times the lead follows from it: no test"),
        ("the same, port opening at 30 % cutoff", 1000 * opening, 11.0, "mm", 2.0, "DinglerGolsdorf1896", "read",
         "lead 8 mm of 8 to 9 printed"),
        ("24 in stroke, full gear, cutoff of the front end less that of the back",
         STROKE * (front.cutoff - back.cutoff), 2.5, "in", 1.0, "Ahrons1921", "read",
         "rods of the gear are not modeled"),
    ]  # fmt: skip
    return Section(
        title="Valve gears",
        text=(
            "Harmonic gear from lap, lead and travel: class data from memory, a Walschaerts gear of 1896 "
            "([DinglerGolsdorf1896], read) and a link gear ([Ahrons1921], read). One per cent of the stroke is allowed "
            "for cutoffs, 2 mm for the opening, 1 in for the difference of the ends; the last is known to be short, "
            "since only the main rod's obliquity is modeled.",
        ),
        comparisons=tuple(
            Comparison(
                case=case, computed=computed, published=published, unit=unit, digits=".1f", source=source,
                status=status, absolute=within, remark=remark,
            )
            for case, computed, published, unit, within, source, status, remark in rows
        ),
    )  # fmt: skip


@lru_cache
def storage() -> Section:
    """Volume of water or steam that gives one boiler horsepower for a minute as the pressure falls."""
    high, low = 180 * PSI + ATMOSPHERE, 150 * PSI + ATMOSPHERE
    middle = 0.5 * (high + low)
    latent = steam.vapor_enthalpy(pressure=middle) - steam.liquid_enthalpy(pressure=middle)
    given = (steam.liquid_enthalpy(pressure=high) - steam.liquid_enthalpy(pressure=low)) / latent
    water = BOILER_HORSEPOWER_MINUTE / given / steam.liquid_density(pressure=high) / FOOT**3
    thinner = steam.vapor_density(pressure=high) - steam.vapor_density(pressure=low)
    return Section(
        title="Stored heat",
        text=(
            "Steam for one boiler horsepower (30 lb per hour) for one minute with no fire while "
            "the pressure falls from 180 to 150 psi ([Babcock1919], read): half a cubic foot of "
            "water, or eight of steam space. The boiler of a simulated run releases its heat by "
            "the same enthalpies.",
        ),
        comparisons=(
            Comparison(
                case="water", computed=water, published=0.5, unit="ft³", digits=".2f", source="Babcock1919",
                status="read", absolute=0.05,
            ),
            Comparison(
                case="steam space", computed=BOILER_HORSEPOWER_MINUTE / thinner / FOOT**3, published=8.0, unit="ft³",
                digits=".1f", source="Babcock1919", status="read", absolute=0.5,
            ),
        ),
    )  # fmt: skip
