"""Cases of the fuzz that run a command: each command of the program with its own options, some of them odd."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from hypothesis import strategies as st
from typer.main import get_command

from locosim.cli import app
from tests.fuzz.strategies import (
    CHANGES,
    ENGINES,
    ROUTES,
    SMALL_ENGINES,
    SMALL_EXCURSIONS,
    SMALL_PARTS,
    TRACKS,
    FuzzCase,
    damaged,
    number_to,
    one_of,
)


@dataclass(frozen=True)
class Parameter:
    """An argument or an option of a command, as the program declares it."""

    name: str
    options: tuple[str, ...]  # empty for an argument
    many: bool
    required: bool
    is_switch: bool


@cache
def commands() -> dict[str, tuple[Parameter, ...]]:
    """Return the arguments and options of each command of the program, by its words."""
    return {
        words: tuple(map(_parameter, command.params)) for words, command in _declared(get_command(app), ())
    }


def _declared(command: Any, words: tuple[str, ...]) -> list[tuple[str, Any]]:
    if not hasattr(command, "commands"):
        return [(" ".join(words), command)]
    return [found for name, each in command.commands.items() for found in _declared(each, (*words, name))]


def _parameter(declared: Any) -> Parameter:
    many = declared.nargs == -1 or getattr(declared, "multiple", False)
    is_switch = bool(getattr(declared, "is_flag", False))
    options = tuple(word for word in (*declared.opts, *declared.secondary_opts) if word.startswith("--"))
    return Parameter(declared.name, options, many, declared.required, is_switch)


# Not drawn: it connects to another machine by its purpose.
NOT_DRAWN = ("cluster",)
# Drawn always: without the first, a command computes an engine for seconds or takes all cores.
ALWAYS = {"method": "handbook", "jobs": "1", "samples": "20"}

# Values that the commands take, by the name of the parameter, with the words of the command where its own differ.
VALUES: dict[str, list[str]] = {
    "excursion": SMALL_EXCURSIONS,
    "excursions": SMALL_EXCURSIONS,
    "engine": SMALL_ENGINES,
    "engine_a": SMALL_ENGINES + ENGINES,
    "engine_b": SMALL_ENGINES + ENGINES,
    "test-sheet engine": ["engines/teasel.toml", *SMALL_ENGINES],
    "train": ["odd/train.toml"],
    "route": ["odd/line.toml"],
    "route show route": ["odd/line.toml", "odd/line.toml", *ROUTES],
    "routes": ["odd/line.toml", "routes/quernby_line.toml"],
    "points": [*TRACKS, "odd/heights.csv", "odd/heights.csv", "odd/heights.csv"],
    "day file": ["odd/day.toml"],
    "vary file": ["odd/garden.toml", *SMALL_ENGINES],
    "log": ["odd/log.csv"],
    "rows": ["odd/cases.csv", "odd/grid.toml"],
    "consists": ["odd/consists.csv"],
    "kind": ["engine", "train", "route", "excursion", "day"],
    "new file": ["made.toml"],
    "inputs": ["rail=dry,wet", "train.vehicles[1].count=1:2", "boiler.grate_area=0.05:0.06:0.01 m^2"],
    "values": ["rail=dry,wet", "train.vehicles[1].count=1:2"],
    "column": ["verdict", "time", "margin:steam", "late", "arrival:Orchard", "evaporation"],
    "change": ["rail=wet", "weather.temperature=-20 degC", "uncertainty=uncertainty.toml", "crew.horizon=0 s"],
    "speed": ["6 mph"],
    "cutoff": ["50 %"],
    "throttle": ["50 %"],
    "pressure": ["80 psi"],
    "tractive_effort": ["60 lbf"],
    "rail": ["wet", "frost"],
    "fuel": ["anthracite", "wood", "oil"],
    "heating_value": ["11000 Btu/lb"],
    "method": ["handbook"],
    "step": ["2 mph"],
    "timetable step": ["30 s"],
    "short_effort": ["5 minute"],
    "grade": ["1 %", "1 in 60"],
    "loaded_car": ["2 short_ton"],
    "empty_car": ["1 short_ton"],
    "law": ["davis_1926_passenger"],
    "firing_rate": ["60 lb/ft^2/hour"],
    "draft": ["2 inH2O"],
    "vehicle": ["riding car"],
    "mass_step": ["200 lb"],
    "verdict": ["tight"],
    "temperature": ["20 degF"],
    "fuel_price": ["160/short_ton"],
    "water_price": ["6/1000 us_gallon"],
    "time_price": ["240/hour"],
    "sort": ["cost", "mass"],
    "recovery": ["8 %", "1 minute"],
    "sharing": ["even"],
    "closed": ["Orchard"],
    "place": ["rear"],
    "samples": ["20"],
    "seed": ["7"],
    "jobs": ["1"],
    "constant": ["car_rolling", "headwind"],
    "train_length": ["100 ft"],
    "ruling_grade": ["1 %"],
    "entry_speed": ["5 mph"],
    "lowest_speed": ["2 mph"],
    "speed_limit": ["20 mph"],
    "name": ["A line"],
    "track": ["1"],
    "smooth": ["100 ft", "0 ft"],
    "curve_window": ["200 ft"],
    "max_grade": ["4 %"],
    "start": ["Gate", "100 m"],
    "end": ["Orchard", "1 km"],
    "units": ["metric", "british"],
    "to": ["made.toml"],
    "output": ["made.csv", "made.parquet"],
    "csv": ["made.csv"],
    "plot": ["made.svg", "made.png", "made.pdf"],
    "report": ["made.html"],
}  # fmt: skip
ODD_VALUES = [
    "", "0", "1", "-1", "nan", "inf", "nan mph", "1e308 mph", "1e-8 mph", "30 mph", "50 km/h", "1 %", "30 %", "300 %",
    "1e9 %", "handbook", "wet", "dry", "0.3", "1 in 0", "1 in 60", "70 short_ton", "0 short_ton", "100 psi", "-9 psi",
    "180 lb/ft^2/hour", "12800 Btu/lb", "800 ft", "1e9 ft", "0 ft", "us", "bituminous", "x" * 300, "🚂", "\u202e",
    "1/0", "nan/hour", "-1/hour", "160/furlong", "davis_1926_passenger", "2 minute", "-2 minute", "12000 lbf", "metric",
    "9" * 4400, "20 degF", "-500 degF", "clear", "cost", "Quernby", "margin:", "late:nowhere", "12/1000", "1e-300 s",
]  # fmt: skip
ODD_FILES = [
    "", ".", "..", "no_such.toml", "no_such/a.csv", "x" * 300, "engines", "odd/garden.toml", "odd/heights.csv",
    "odd/consists.csv", "odd/uncertainty.toml", "tracks/quarry_branch.gpx", "engines/campion.toml", "🚂.toml",
    "/dev/null", "routes/quernby_line.toml", "odd/log.csv", "odd/day.toml",
]  # fmt: skip
# None of these can be written, so that no case leaves files elsewhere.
ODD_OUTPUTS = [
    "", ".", "..", "no_such/made.csv", "made", "made.xyz", "x" * 300 + ".png", "x" * 300 + ".toml", "engines", "odd",
    "engines/campion.toml/made.csv", "/dev/null", "/dev/full", "/proc/made.csv", "/proc/made.toml",
]  # fmt: skip
ODD_NUMBERS = ["", "0", "-1", "1.5", "x", "9" * 4400, "1e3", "19", "1000001", "٣"]
ODD_INPUTS = [
    "", "=", "a=", "a=1", "rail=", "rail=,", "rail=dry", "rail=dry,x", "rail=dry:wet", "train.vehicles[1].count=1:1e9",
    "train.vehicles[1].count=2:1", "train.vehicles[1].count=1:2:0", "train.vehicles[1].count=1:2:1e-9",
    "train.vehicles[1].count=nan:2", "train.vehicles[9].count=1:2", "departure=14:00 to 13:00 by 1 minute",
    "departure=14:00 to 14:10 by 10 minute", "crew.max_speed=1:2:1 mph", "speed=5:6:1 mph", "speed=5,nan mph",
    "boiler.grate_area=0:1:1 m^2", "engine_units[*].driver_diameter=7 1/4,9 in", "cutoff=30:20 %", "🚂=1,2",
]  # fmt: skip
FILE_PARAMETERS = (
    "excursion", "excursions", "engine", "engine_a", "engine_b", "train", "route", "routes", "points", "file", "log",
    "rows", "consists",
)  # fmt: skip
OUTPUTS = ("to", "output", "csv", "plot", "report")
RARELY = {"csv": 19, "plot": 59, "report": 59}  # pictures would take most of the time
ODD: dict[str, list[str]] = (
    dict.fromkeys(FILE_PARAMETERS, ODD_FILES)
    | dict.fromkeys(OUTPUTS, ODD_OUTPUTS)
    | {"new file": ODD_OUTPUTS, "jobs": ODD_NUMBERS[:6], "samples": ODD_NUMBERS, "seed": ODD_NUMBERS}
    | {"inputs": ODD_INPUTS, "values": ODD_INPUTS, "change": CHANGES}
)
SMALL_CHANGES = [
    "method=cycle", "crew.horizon=0 s", "crew.habit=steady_steam", "departure=23:59", "route.altitude=4000 m",
    "weather.temperature=-40 degC", "weather.headwind=25 m/s", "locomotive=bracken.toml", "fuel.kind=wood",
    "train.vehicles[1].count=0", "train.vehicles[1].count=30", "train.vehicles[1].people=0", "stops[2].arrive=14:00",
    "locomotive.boiler.working_pressure_gauge=1 bar", "locomotive.tender.water_capacity=2 liter", "speed_limit=1 mph",
    "route.speed_limit=40 mph", "uncertainty.assumptions=chance", "train=wooden_six.toml", "direction=reverse",
    "locomotive.engine_units[1].driver_diameter=7 1/4 in", "stops[1].dwell=24 hour", "legs[2].layover.turn=wye",
    "legs[1].excursion.rail=frost", "legs[2].excursion.departure=13:00", "boiler.grate_area=5 m^2", "rail=frost",
]  # fmt: skip
ODD["change"] = [*CHANGES, *SMALL_CHANGES, *SMALL_CHANGES]


@st.composite
def command_cases(draw: st.DrawFn, words: str = "") -> FuzzCase:
    """Draw a command: a file it names is damaged, or an option or two are odd, or all is well."""
    words = words or draw(one_of(*sorted(commands())))
    parameters = [each for each in commands()[words] if each.name not in NOT_DRAWN]
    valued = [each.name for each in parameters if not each.is_switch]
    odd = [draw(one_of(*valued)) for _ in range(draw(number_to(2)))]
    arguments = words.split()
    for parameter in parameters:
        arguments += _written(draw, words, parameter, odd=parameter.name in odd)
    named = [word for word in arguments if word in SMALL_ENGINES + SMALL_EXCURSIONS + _DAMAGED]
    if not named or draw(number_to(2)) == 0:
        return FuzzCase({}, arguments)
    changed = draw(one_of(*named, *(SMALL_PARTS if "odd/garden.toml" in named else [])))
    return FuzzCase({changed: draw(damaged(changed))}, arguments)


_DAMAGED = [
    "odd/train.toml", "odd/line.toml", "odd/day.toml", "odd/log.csv", "odd/cases.csv", "odd/grid.toml",
    "odd/consists.csv", "odd/heights.csv", TRACKS[0], *ROUTES, *ENGINES,
]  # fmt: skip


def _written(draw: st.DrawFn, words: str, parameter: Parameter, *, odd: bool) -> list[str]:
    """Draw how often a parameter is given, and its words."""
    if parameter.is_switch:
        return [draw(one_of(*parameter.options))] if draw(number_to(3)) == 0 else []
    is_given = odd or parameter.required or parameter.name in ALWAYS
    rarely = RARELY.get(parameter.name, 3)
    # A middle number: Hypothesis draws the ends of a long range far more often than the others.
    if not is_given and draw(number_to(rarely)) != rarely // 2:
        return []
    count = 1 + draw(number_to(1)) if parameter.many else 1
    values = _values(words, parameter.name, odd=odd)
    found = [draw(one_of(*values)) for _ in range(count)]
    return [word for value in found for word in (*parameter.options[:1], value)]


def _values(words: str, name: str, *, odd: bool) -> list[str]:
    of_command, own = f"{words} {name}", ODD if odd else VALUES
    if of_command in own:
        return own[of_command]
    return own.get(name, ODD_VALUES) if odd else own[name]
