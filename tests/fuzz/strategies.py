"""Cases of the fuzz that read a file or run an excursion: damaged and odd files, and changes."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

from hypothesis import strategies as st

ROOT = Path(__file__).resolve().parent.parent.parent
# Folders of the railway in which cases run, by their names there. The second has lines and engines far from the
# standard gauge, by the method that takes some milliseconds.
FOLDERS = {".": (ROOT / "scenarios",), "odd": (ROOT / "tests/odd/data", Path(__file__).parent / "data")}


@dataclass(frozen=True)
class FuzzCase:
    """Files that differ from the example railway, by their paths in its folder, and the arguments of a command.

    A command `read KIND FILE` reads the file and computes nothing.
    """

    files: dict[str, str]
    arguments: list[str]

    def text(self) -> str:
        """Return the case as a file of the corpus."""
        return json.dumps(asdict(self), indent=1) + "\n"


def read_case(path: Path) -> FuzzCase:
    """Read a file of the corpus."""
    return FuzzCase(**json.loads(path.read_text(encoding="utf-8")))


ODD_VALUES = [
    "0", "-1", "1e308", "-1e308", "1e-308", "1e400", "nan", "inf", "-inf", "9" * 30, "9" * 4400, "true", "[]", "{}",
    '""', '" "', '"abc"', '"1 furlong"', '"-5 in"', '"1e999 ft"', '"nan in"', '"inf mph"', '"1/0 in"', '"5 mph mph"',
    '"10 km/h"', '"1 lb/ft^2/hour"', '"٣ in"', '"½ in"', '"1 in 0"', '"25:99"', '"\\u0000"', '"\\u202e"', '"🚂"',
    '"../engines"', '"/dev/null"', '"a\\nb"', "[1, 2]", "{a = 1}", "1979-05-27", "07:32:00", "0x10", '"100 %"',
    '"7 1/4 in"', '"-40 degC"', '"-500 degC"', '"9000 ft"', '"1e-9 kg"', "1", "2", "100000000", '"1e7 km"',
]  # fmt: skip
ODD_CELLS = [
    "",
    " ",
    "nan",
    "inf",
    "-1",
    "1e308",
    "1e-308",
    "abc",
    "=1+1",
    "٣",
    "🚂",
    '"',
    "0",
    "9" * 400,
    "1 in 0",
]
CHANGES = [
    "rail=wet", "rail=", "=", "", "a", "rail=frost", "train.vehicles[1].count=0", "train.vehicles[1].count=1",
    "train.vehicles[0].count=1", "train.vehicles[99].count=1", f"train.vehicles[{'9' * 4301}].count=1",
    "train.vehicles[*].count=2", "train.vehicles[-1].count=1", "locomotive.boiler.working_pressure_gauge=1 psi",
    "boiler.working_pressure_gauge=1e9 psi", "boiler.grate_area=0 ft^2", "engine_units[1].driver_diameter=7 1/4 in",
    "engine_units[*].valve_gear.lap=9 in", "weather.temperature=-40 degC", "weather.temperature=nan",
    "weather.altitude=12000 ft", "assumptions.adhesion_factor=1e9", "assumptions.adhesion_factor=nan",
    "assumptions.adhesion_factor=0.5", "assumptions.x=1", "speed_limit=40 mph", "speed_limit=0 mph", "crew=1",
    "crew.max_speed=1e-8 mph", "legs[2].layover.turn=wye", "legs[9].excursion.rail=wet", "legs=3", "tender=", "a.b.c=1",
    "name=🚂", "name=\u202e", "stops[*].dwell=0 s", "stops[1].station=x", "departure=25:00", "direction=reverse",
    "..=1", "a[=1", "a]=1", "[1]=1", "a[[1]]=1",
]  # fmt: skip

ENGINES = ["engines/campion.toml", "engines/monkshood.toml", "engines/teasel.toml"]
TRAINS = ["trains/wooden_six.toml", "trains/heavy_twelve.toml", "trains/demonstration_mixed.toml"]
ROUTES = ["routes/quernby_line.toml", "routes/main_line.toml"]
ROUTE_TABLES = [
    "routes/quernby_line.csv", "routes/quernby_line_curves.csv", "routes/main_line.csv", "routes/main_line_curves.csv",
]  # fmt: skip
EXCURSIONS = [f"excursions/{name}.toml" for name in ("spring_special", "summit_express", "winter_freight")]
DAYS = ["odd/day.toml", "odd/day.toml", "days/spring_there_and_back.toml", "days/summit_express_home.toml"]
CONSISTS = ["consists/spring_special.csv", "planners_day/consists.csv", "odd/consists.csv"]
LOGS = ["odd/log.csv", "odd/log.csv", "odd/log.csv", "logs/spring_special.csv"]  # the last takes long to read
BATCHES = ["batches/cases.csv", "batches/consists_by_weather.toml", "odd/cases.csv", "odd/grid.toml"]
TRACKS = ["tracks/quarry_branch.gpx"]
UNCERTAINTY = ["uncertainty/autumn.toml", "odd/uncertainty.toml"]
SMALL_ENGINES = ["odd/wren.toml", "odd/bracken.toml", "odd/oil_burner.toml"]
SMALL_EXCURSIONS = ["odd/garden.toml", "odd/tank_engine.toml"]
# What a small file names.
SMALL_PARTS = ["odd/wren.toml", "odd/train.toml", "odd/line.toml", "odd/heights.csv"]


@cache
def bundled() -> dict[str, str]:
    """Return the text of each file of the railway, by its path in it."""
    return {
        path.relative_to(source).as_posix() if folder == "." else f"{folder}/{path.name}": path.read_text(
            "utf-8"
        )
        for folder, sources in FOLDERS.items()
        for source in sources
        for path in sorted(source.rglob("*"))
        if path.is_file()
    }


@st.composite
def toml_changes(draw: st.DrawFn, text: str) -> str:
    """Damage up to three lines of a TOML file, or make their values odd."""
    lines = text.split("\n")
    for _ in range(draw(st.integers(1, 3))):
        if not lines:
            break
        at = draw(number_to(len(lines) - 1))
        lines[at : at + 1] = _changed_line(draw, lines[at])
    return "\n".join(lines)


def _changed_line(draw: st.DrawFn, line: str) -> list[str]:
    kind = draw(one_of("value", "value", "value", "scale", "scale", "drop", "twice", "key", "cut", "text"))
    key, equals, _ = line.partition(" = ")
    if kind == "value" and equals:
        return [f"{key} = {draw(one_of(*ODD_VALUES))}"]
    if kind == "scale":
        factor = draw(st.sampled_from([0.0, 1e-9, 1e-3, 0.1, 0.5, 0.9, 1.1, 2, 10, 1e3, 1e9, -1]))
        return [re.sub(r"\d+(\.\d+)?", lambda found: repr(float(found[0]) * factor), line, count=1)]
    if kind == "key":
        return [
            draw(st.sampled_from(["x", "é", '"a b"', "[[x]]", "[", "a.b", "[a." + "b." * 500 + "c]"])) + line
        ]
    if kind == "cut":
        return [line[: draw(st.integers(0, max(len(line), 1)))]]
    if kind == "text":
        return [line, draw(st.text(max_size=12))]
    return [] if kind == "drop" else [line, line]


@st.composite
def row_changes(draw: st.DrawFn, text: str) -> str:
    """Damage the rows of a table: cells, order, separators, headings."""
    lines = text.split("\n")
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, min(len(lines) - 1, 12)) | st.integers(0, len(lines) - 1))
        other = draw(number_to(len(lines) - 1))
        kind = draw(one_of("cell", "cell", "cell", "swap", "drop", "twice", "semicolon", "cut", "text"))
        cells = lines[at].split(",")
        if kind == "cell":
            cells[draw(st.integers(0, len(cells) - 1))] = draw(one_of(*ODD_CELLS))
            lines[at] = ",".join(cells)
        elif kind == "swap":
            lines[at], lines[other] = lines[other], lines[at]
        elif kind == "drop":
            lines[at] = ",".join(cells[1:])
        elif kind == "twice":
            lines.insert(other, lines[at])
        elif kind == "semicolon":
            lines[at] = lines[at].replace(",", ";")
        elif kind == "cut":
            lines = lines[: at + 1]
        else:
            lines[at] = draw(st.text(max_size=20))
    return "\n".join(lines)


@st.composite
def gpx_changes(draw: st.DrawFn, text: str) -> str:
    """Damage a track: figures, elements, and parts cut off."""
    at = draw(st.integers(0, len(text) - 1))
    kind = draw(one_of("figure", "figure", "cut", "text", "element"))
    if kind == "figure":
        odd = draw(st.sampled_from(ODD_CELLS + ["91", "-181", "1e9"]))
        return text[:at] + re.sub(r"-?\d+\.\d+", lambda _: odd, text[at:], count=1)
    if kind == "cut":
        return text[:at]
    if kind == "text":
        return text[:at] + draw(st.text(max_size=10)) + text[at:]
    return text.replace(
        draw(st.sampled_from(["trkpt", "ele", "lat", "gpx", "wpt"])), "x", draw(st.integers(1, 9))
    )


@cache
def one_of(*values: str) -> st.SearchStrategy[str]:
    """Return one of some texts; made once, as making a strategy takes longer than drawing from it."""
    return st.sampled_from(values)


@cache
def number_to(last: int) -> st.SearchStrategy[int]:
    """Return a number from 0; made once."""
    return st.integers(0, last)


@cache
def damaged(name: str) -> st.SearchStrategy[str]:
    """Return texts like those of a bundled file, damaged or odd, and now and then the file itself."""
    text = bundled()[name]
    made = {"toml": toml_changes, "csv": row_changes, "gpx": gpx_changes}[name.rpartition(".")[2]]
    return made(text) | made(text) | made(text) | st.just(text) | st.text(max_size=40)


_READ = st.sampled_from([
    ("engine", ENGINES, None), ("train", TRAINS, None), ("route", ROUTES, None), ("log", LOGS, None),
    ("excursion", EXCURSIONS, None), ("day", DAYS, None), ("consists", CONSISTS, None),
    ("batch", BATCHES, None), ("excursion", ENGINES + TRAINS + ROUTES + ROUTE_TABLES, EXCURSIONS),
    ("engine", SMALL_ENGINES, None), ("excursion", SMALL_EXCURSIONS, None), ("uncertainty", UNCERTAINTY, None),
])  # fmt: skip


@st.composite
def reading_cases(draw: st.DrawFn) -> FuzzCase:
    """Draw a file that is read only, of any kind, itself or through a file that names it."""
    kind, names, within = draw(_READ)
    changed = draw(one_of(*names))
    arguments = ["read", kind, draw(one_of(*within)) if within else changed]
    if draw(number_to(2)) == 0 and kind not in ("consists", "log", "batch", "uncertainty"):
        arguments.append(draw(one_of(*CHANGES)))
    return FuzzCase({changed: draw(damaged(changed))}, arguments)


@st.composite
def run_cases(draw: st.DrawFn) -> FuzzCase:
    """Draw a whole run or check with a change that is odd but often valid; it takes a second or so."""
    command = draw(st.sampled_from(["run", "run", "check"]))
    change = draw(st.sampled_from(RUN_CHANGES))
    return FuzzCase({}, [command, EXCURSIONS[0], "--json", "--change", change])


RUN_CHANGES = [
    "weather.temperature=-35 degC", "weather.temperature=45 degC", "train.vehicles[1].count=1", "rail=frost",
    "train.vehicles[2].count=40", "locomotive.tender.water_capacity=300 us_gallon", "weather.headwind=25 m/s",
    "crew.max_speed=6 mph", "departure=23:59", "fuel.heating_value=14 MJ/kg", "crew.steam_allowance=0.2",
    "locomotive.boiler.working_pressure_gauge=60 psi", "weather.altitude=9000 ft", "fuel.kind=oil",
]  # fmt: skip
