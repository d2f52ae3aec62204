"""The test sheet of an engine: locosim's own figures beside it, and keys of the engine set from it.

Each reading that the sheet is used for sets one key, so that the mean error of its rows is zero:

=====================  =======================================================================
reading                key
=====================  =======================================================================
max_back_pressure      steam_passages.max_back_pressure, as printed
max_firing_rate        boiler.max_firing_rate, as printed
max_evaporation        steam_passages.max_back_pressure that gives it
evaporation            boiler.unburned_factor, at the firing rate
steam_temperature      boiler.superheater_factor
draft                  boiler.draft_roughness_factor
indicated_power        steam_passages.steam_rate_factor at given steam; at the boiler's limit
                       steam_passages.max_back_pressure
steam_rate             steam_passages.steam_rate_factor
=====================  =======================================================================
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from locosim.engine.test_sheet.keys import (
    BACK_PRESSURE,
    BOILER_KEYS,
    FIRING_RATE,
    STEAM_RATE,
    key_value,
    range_of_key,
    usual_value,
    with_anchors,
    with_key,
    without_anchors,
)
from locosim.engine.test_sheet.readings import EngineUnderTest, Readings, mean_error, reading_error
from locosim.errors import OutOfRange
from locosim.model import Assumptions, Locomotive
from locosim.model.engine_test_sheet import Anchor
from locosim.recent import keep_recent

REACHED = 1e-3  # mean error below which the readings count as reached
STEP = 1.12  # from one value of a key to the next while the readings are being bracketed
PRECISION = 2e-5  # of a key
BOILER_ROUNDS = 3  # the three factors of the boiler hardly depend on each other
MAP_ROUNDS = 3  # a map with another steam rate has another steam temperature
MAP_TOLERANCE = 1e-3  # of the steam rate factor, between two maps


@keep_recent(16)
def anchored_engine(locomotive: Locomotive, assumptions: Assumptions = Assumptions()) -> Locomotive:
    """The engine with its keys set from the readings that its test sheet is used for.

    Args:
        locomotive: The engine, with a test sheet; keys set before are set again.
        assumptions: Assumed figures.

    Returns:
        The engine; `anchors` tells what was set. An engine whose sheet is not used is returned as its file describes
        it.

    Raises:
        OutOfRange: A fuel of the sheet that the engine cannot burn, or an engine the cycle does not cover.
    """
    if not locomotive.test_sheet.use:
        return without_anchors(locomotive) if locomotive.anchors else locomotive
    base = without_anchors(locomotive)
    return with_anchors(base, _anchors(base, assumptions))


@lru_cache(maxsize=32)
def _anchors(base: Locomotive, assumptions: Assumptions) -> tuple[Anchor, ...]:
    """Keys of an engine as its file describes it that are set from its test sheet."""
    anchors: dict[str, Anchor] = {}
    sheet = base.test_sheet
    engine = base
    for name, key in (("max_back_pressure", BACK_PRESSURE), ("max_firing_rate", FIRING_RATE)):
        if name in sheet.use:
            value: float = getattr(sheet, name)
            engine = with_key(engine, key, value)
            anchors[key] = _anchor(base, assumptions, key, value, name)
    for found in (_boiler_anchors, _steam_rate_anchor, _limit_anchor):
        engine = found(engine, base, assumptions, anchors)
    return tuple(anchors.values())


def _boiler_anchors(
    engine: Locomotive, base: Locomotive, assumptions: Assumptions, anchors: dict[str, Anchor]
) -> Locomotive:
    """Set the factors of the boiler, one after the other, until they agree."""
    wanted: dict[str, Readings] = {
        name: tuple((row, name) for row in base.test_sheet.anchor_rows(name)) for name in BOILER_KEYS
    }
    for _ in range(BOILER_ROUNDS):
        for name, readings in wanted.items():
            if readings:
                engine = _set_factor(engine, base, assumptions, anchors, BOILER_KEYS[name], readings)
    return engine


def _set_factor(
    engine: Locomotive,
    base: Locomotive,
    assumptions: Assumptions,
    anchors: dict[str, Anchor],
    key: str,
    readings: Readings,
) -> Locomotive:
    """Set one factor of the boiler by its readings."""
    low, high = range_of_key(key, engine)

    def error(value: float) -> float:
        return mean_error(EngineUnderTest.of(with_key(engine, key, value), assumptions), readings)

    value, left = solve_key(error, usual_value(engine, key, assumptions), low, high)
    anchors[key] = _reached(_anchor(base, assumptions, key, value, _named(readings)), left)
    return with_key(engine, key, value)


def _named(readings: Readings) -> str:
    """The readings in words: `evaporation, 2 rows`."""
    names = dict.fromkeys(name for _, name in readings)
    count = len(readings)
    return f"{' and '.join(names)}, {count} row{'s' if count != 1 else ''}"


def _reached(anchor: Anchor, left: float, limited_by: str = "") -> Anchor:
    reached = abs(left) <= REACHED
    return replace(anchor, error=left, reached=reached, limited_by="" if reached else limited_by)


def _steam_rate_anchor(
    engine: Locomotive, base: Locomotive, assumptions: Assumptions, anchors: dict[str, Anchor]
) -> Locomotive:
    """Set the steam rate factor by indicated power at given steam and by steam rates."""
    sheet = base.test_sheet
    readings: Readings = tuple(
        (row, name)
        for name in ("indicated_power", "steam_rate")
        for row in sheet.anchor_rows(name)
        if not row.at_boiler_limit
    )
    if not readings:
        return engine
    low, high = range_of_key(STEAM_RATE, engine)
    value, left = usual_value(engine, STEAM_RATE, assumptions), 0.0
    for _ in range(MAP_ROUNDS):
        built = EngineUnderTest.of(with_key(engine, STEAM_RATE, value), assumptions).with_map()
        before = value

        def error(factor: float, built: EngineUnderTest = built, before: float = before) -> float:
            return _mean_error_of_steam(built, factor / before, readings)

        value, left = solve_key(error, value, low, high)
        if abs(value / before - 1.0) < MAP_TOLERANCE:
            break
    anchors[STEAM_RATE] = _reached(_anchor(base, assumptions, STEAM_RATE, value, _named(readings)), left)
    return with_key(engine, STEAM_RATE, value)


def _mean_error_of_steam(built: EngineUnderTest, ratio: float, readings: Readings) -> float:
    """Mean error with the steam of the map multiplied; that of a power counts against it, as steam over power."""
    assert built.map is not None
    engine = replace(built, map=replace(built.map, steam=built.map.steam * ratio))
    errors = [
        reading_error(name, engine.computed(row, name), getattr(row, name))
        * (1.0 if name == "steam_rate" else -1.0)
        for row, name in readings
    ]
    return sum(errors) / len(errors)


def _limit_anchor(
    engine: Locomotive, base: Locomotive, assumptions: Assumptions, anchors: dict[str, Anchor]
) -> Locomotive:
    """Set the greatest back pressure by the greatest evaporation or by indicated power at the boiler's limit."""
    sheet = base.test_sheet
    rows = tuple(row for row in sheet.anchor_rows("indicated_power") if row.at_boiler_limit)
    wanted = sheet.max_evaporation if "max_evaporation" in sheet.use else None
    if not rows and wanted is None:
        return engine
    readings: Readings = tuple((row, "indicated_power") for row in rows)
    low, high = range_of_key(BACK_PRESSURE, engine)
    first = EngineUnderTest.of(engine, assumptions)
    performance_map = first.with_map().map if rows else None

    def tested(value: float) -> EngineUnderTest:
        return replace(
            EngineUnderTest.of(with_key(engine, BACK_PRESSURE, value), assumptions), map=performance_map
        )

    def error(value: float) -> float:
        at = tested(value)
        return at.supply.sustained / wanted - 1.0 if wanted is not None else mean_error(at, readings)

    value, left = solve_key(error, usual_value(engine, BACK_PRESSURE, assumptions), low, high)
    by = "max_evaporation" if wanted is not None else _named(readings)
    anchor = _anchor(base, assumptions, BACK_PRESSURE, value, by)
    anchors[BACK_PRESSURE] = _reached(anchor, left, tested(value).supply.binding.name)
    return with_key(engine, BACK_PRESSURE, value)


def _anchor(base: Locomotive, assumptions: Assumptions, key: str, value: float, by: str) -> Anchor:
    """A key set, with its usual value and believable range."""
    declared = Assumptions.declared()
    name = key.split(".")[1]
    if key == FIRING_RATE:
        unit, low, high = "kg/m^2/s", 0.0, 0.352
    else:
        unit, low, high = (declared[name].metadata[part] for part in ("unit", "low", "high"))
    return Anchor(
        key=key,
        value=value,
        usual=usual_value(base, key, assumptions),
        given=key_value(base, key),
        unit=unit,
        low=low,
        high=high,
        by=by,
    )


def solve_key(error: Callable[[float], float], start: float, low: float, high: float) -> tuple[float, float]:
    """Value of a key at which a monotone error is zero, or the nearest to it within a range.

    The search goes from the start in steps of an eighth toward the smaller error; a value at which the engine cannot be
    computed ends it. A stretch around the start where the error does not change is passed over.

    Args:
        error: Error at a value of the key.
        start: Value to start from, above 0.
        low: Least value.
        high: Greatest value.

    Returns:
        The value, and the error left. Where the error stops falling, the value nearest the start that leaves it.
    """
    here, at_start = start, error(start)
    if abs(at_start) < 1e-9:
        return start, at_start
    # Where another limit binds, the error is flat around the start: step on until it changes on one side.
    above = below = start
    upward = downward = at_start
    while upward == downward == at_start and (above < high or below > low):
        above, below = min(above * STEP, high), max(below / STEP, low)
        upward, downward = (at_start if e is None else e for e in (_try(error, above), _try(error, below)))
    if upward == downward == at_start:
        return start, at_start
    rising = upward > downward
    factor = STEP if rising == (at_start < 0.0) else 1.0 / STEP
    if upward == at_start and factor < 1.0:
        here = min(below * STEP, start)
    elif downward == at_start and factor > 1.0:
        here = max(above / STEP, start)
    found = at_start
    while low < here < high or here == start:
        there = min(max(here * factor, low), high)
        after = _try(error, there)
        if after is None or there == here or (abs(after) >= abs(found) - 1e-9 and after * found > 0.0):
            return here, found
        if after * found <= 0.0:
            return _bracketed_zero(error, here, there)
        here, found = there, after
    return here, found


def _try(error: Callable[[float], float], value: float) -> float | None:
    """Error at a value; None where the engine cannot be computed."""
    try:
        return error(value)
    except OutOfRange:
        return None


def _bracketed_zero(error: Callable[[float], float], here: float, there: float) -> tuple[float, float]:
    """Zero of an error between two values of opposite sign."""
    from scipy.optimize import brentq

    value = float(brentq(error, here, there, rtol=PRECISION))
    return value, error(value)
