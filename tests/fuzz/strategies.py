"""Cases of the fuzz: files that are damaged or odd, and the command that reads them."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

from hypothesis import strategies as st

ROOT = Path(__file__).resolve().parent.parent.parent
SCENARIOS = ROOT / "scenarios"


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
DAYS = ["days/spring_there_and_back.toml", "days/summit_express_home.toml"]
CONSISTS = ["consists/spring_special.csv", "planners_day/consists.csv"]
LOGS = ["logs/spring_special.csv"]
BATCHES = ["batches/cases.csv", "batches/consists_by_weather.toml"]
TRACKS = ["tracks/quarry_branch.gpx"]


@cache
def bundled(name: str) -> str:
    """Return the text of a file of the example railway."""
    return (SCENARIOS / name).read_text(encoding="utf-8")


@st.composite
def toml_changes(draw: st.DrawFn, text: str) -> str:
    """Damage up to three lines of a TOML file, or make their values odd."""
    lines = text.split("\n")
    for _ in range(draw(st.integers(1, 3))):
        if not lines:
            break
        at = draw(st.integers(0, len(lines) - 1))
        lines[at : at + 1] = _changed_line(draw, lines[at])
    return "\n".join(lines)


def _changed_line(draw: st.DrawFn, line: str) -> list[str]:
    kind = draw(
        st.sampled_from(["value", "value", "value", "scale", "scale", "drop", "twice", "key", "cut", "text"])
    )
    key, equals, _ = line.partition(" = ")
    if kind == "value" and equals:
        return [f"{key} = {draw(st.sampled_from(ODD_VALUES))}"]
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
        other = draw(st.integers(0, len(lines) - 1))
        kind = draw(
            st.sampled_from(["cell", "cell", "cell", "swap", "drop", "twice", "semicolon", "cut", "text"])
        )
        cells = lines[at].split(",")
        if kind == "cell":
            cells[draw(st.integers(0, len(cells) - 1))] = draw(st.sampled_from(ODD_CELLS))
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
    kind = draw(st.sampled_from(["figure", "figure", "cut", "text", "element"]))
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


def damaged(name: str) -> st.SearchStrategy[str]:
    """Return texts like those of a bundled file, damaged or odd, and now and then the file itself."""
    text = bundled(name)
    made = {"toml": toml_changes, "csv": row_changes, "gpx": gpx_changes}[name.rpartition(".")[2]]
    return made(text) | made(text) | made(text) | st.just(text) | st.text(max_size=40)


ENGINE_COMMANDS = [
    ["curve", "E", "--method", "handbook", "--json"],
    ["curve", "E", "--method", "handbook", "--rail", "O", "--step", "O"],
    ["rating", "E", "--method", "handbook", "--grade", "O", "--speed", "O", "--json"],
    ["rating", "E", "--method", "handbook", "--loaded-car", "O", "--empty-car", "O", "--law", "O"],
    ["curve", "E", "--method", "handbook", "--heating-value", "O", "--fuel", "O", "--short-effort", "O"],
    ["boiler", "E", "--method", "O", "--firing-rate", "O", "--draft", "O"],
    ["cutoff", "E", "O", "--method", "O", "--throttle", "O", "--tractive-effort", "O"],
    ["diagram", "E", "O", "O", "--throttle", "O", "--pressure", "O"],
    ["compare", "E", "E", "--method", "handbook", "--speed", "O", "--units", "O"],
    ["vary", "E", "engine_units[1].driver_diameter=O", "--method", "handbook", "--jobs", "1"],
]
ROUTE_COMMANDS = [
    ["route", "show", "R", "--json"],
    ["route", "show", "R", "--train-length", "O", "--ruling-grade", "O"],
    ["route", "show", "R", "--entry-speed", "O", "--lowest-speed", "O", "--all"],
]
TRACK_COMMANDS = [
    ["route", "make", "G", "--json"],
    ["route", "make", "G", "--smooth", "O", "--curve-window", "O", "--max-grade", "O"],
    ["route", "make", "G", "--to", "made.toml", "--speed-limit", "O", "--name", "O"],
]
ODD_OPTIONS = [
    "", "0", "1", "-1", "nan", "inf", "nan mph", "1e308 mph", "1e-8 mph", "30 mph", "50 km/h", "1 %", "30 %", "300 %",
    "1e9 %", "handbook", "wet", "dry", "0.3", "1 in 0", "1 in 60", "70 short_ton", "0 short_ton", "100 psi", "-9 psi",
    "180 lb/ft^2/hour", "12800 Btu/lb", "800 ft", "1e9 ft", "0 ft", "us", "bituminous", "x" * 300, "🚂",
    "\u202e", "1/0", "davis_1926_passenger", "2 minute", "12000 lbf", "metric", "9" * 4400,
]  # fmt: skip


@st.composite
def commands(draw: st.DrawFn, forms: list[list[str]], **names: str) -> list[str]:
    """Fill a form: E, R, G by the file's name, O by an odd value, with a change now and then."""
    form = draw(st.sampled_from(forms))
    filled = [draw(st.sampled_from(ODD_OPTIONS)) if word == "O" else names.get(word, word) for word in form]
    filled = [word.replace("=O", "=" + draw(st.sampled_from(ODD_OPTIONS))) for word in filled]
    if draw(st.integers(0, 2)) == 0 and form[:2] != ["route", "make"]:
        filled += ["--change", draw(st.sampled_from(CHANGES))]
    return filled


@st.composite
def engine_cases(draw: st.DrawFn) -> FuzzCase:
    """Draw a command on an engine file."""
    name = draw(st.sampled_from(ENGINES))
    return FuzzCase({name: draw(damaged(name))}, draw(commands(ENGINE_COMMANDS, E=name)))


@st.composite
def route_cases(draw: st.DrawFn) -> FuzzCase:
    """Draw a command on a route file or one of its tables."""
    name = draw(st.sampled_from(ROUTES))
    changed = draw(
        st.sampled_from([name, name.replace(".toml", ".csv"), name.replace(".toml", "_curves.csv")])
    )
    return FuzzCase({changed: draw(damaged(changed))}, draw(commands(ROUTE_COMMANDS, R=name)))


@st.composite
def track_cases(draw: st.DrawFn) -> FuzzCase:
    """Draw a line made of a damaged track."""
    return FuzzCase({TRACKS[0]: draw(damaged(TRACKS[0]))}, draw(commands(TRACK_COMMANDS, G=TRACKS[0])))


@st.composite
def reading_cases(draw: st.DrawFn) -> FuzzCase:
    """Draw a file that is read only, of any kind, itself or through a file that names it."""
    kind, names, within = draw(
        st.sampled_from([
            ("engine", ENGINES, None), ("train", TRAINS, None), ("route", ROUTES, None), ("log", LOGS, None),
            ("excursion", EXCURSIONS, None), ("day", DAYS, None), ("consists", CONSISTS, None),
            ("batch", BATCHES, None), ("excursion", ENGINES + TRAINS + ROUTES + ROUTE_TABLES, EXCURSIONS),
        ])
    )  # fmt: skip
    changed = draw(st.sampled_from(names))
    arguments = ["read", kind, draw(st.sampled_from(within)) if within else changed]
    if draw(st.integers(0, 2)) == 0:
        arguments.append(draw(st.sampled_from(CHANGES)))
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


def cases(whole_runs: int = 1) -> st.SearchStrategy[FuzzCase]:
    """Return all cases, of which about one in 400 is a whole run (none where whole_runs is 0)."""
    return st.integers(0, 399).flatmap(
        lambda drawn: run_cases() if drawn < whole_runs else _QUICK[drawn % len(_QUICK)]
    )


_QUICK = [
    reading_cases(), reading_cases(), reading_cases(), engine_cases(), reading_cases(), reading_cases(),
    reading_cases(), engine_cases(), reading_cases(), reading_cases(), track_cases(), route_cases(),
]  # fmt: skip
