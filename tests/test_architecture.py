"""Architecture: the direction of imports, the libraries each room may use, and the names of files."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from functools import cache
from itertools import combinations
from pathlib import Path

import pytest

from locosim.compiled import COMPILED

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "locosim"

# Each room may import from itself and from the rooms listed; all may import errors, compiled, code_digest,
# files_on_disk, frozen and recent.
BELOW = {
    "constants": set(),
    "physics": {"constants"},
    "model": {"physics", "constants"},
    "engine": {"model", "physics", "constants"},
    "journey": {"engine", "model", "physics", "constants"},
    "survey": {"model", "physics", "constants"},
    "planning": {"journey", "engine", "model", "physics", "constants"},
    "units": {"constants"},
    "report": {"units", "studies", "planning", "survey", "journey", "engine", "model", "physics", "constants"},
    "plot": {"units", "studies", "planning", "survey", "journey", "engine", "model", "physics", "constants"},
    "scenario": {"units", "survey", "model", "physics", "constants"},
    "rendering": {
        "report", "plot", "studies", "planning", "survey", "journey", "engine", "model", "physics", "constants",
    },
    "loading": {"scenario", "engine", "model", "physics", "constants"},
    "studies": {
        "loading", "scenario", "planning", "survey", "journey", "engine", "model", "physics", "constants",
    },
    "library": {
        "studies", "loading", "rendering", "units", "report", "plot", "scenario", "planning", "survey", "journey",
        "engine", "model", "physics", "constants",
    },
    "cli": {
        "library", "studies", "loading", "rendering", "units", "report", "plot", "scenario", "planning", "survey",
        "journey", "engine", "model", "physics", "constants",
    },
    "": {"library", "loading", "model"},  # the public names, loaded on first use
    "__main__": {"cli"},
    "errors": set(),
    "frozen": set(),
    "side_by_side": set(),
    "compiled": {"constants"},
    "compiled_parts": set(),
    "code_digest": {"files_on_disk"},
    "files_on_disk": set(),
    "recent": set(),
}  # fmt: skip
# Order of the folders and files inside a room. Each may import from levels above its own in this list, that is, from
# those listed before; those on one level do not import each other.
ORDER = {
    "physics": (
        ("types", "data_tables"),
        ("steam", "operation", "traction"),
        ("boiler", "cylinder", "resistance"),
    ),
    "model": (
        ("declare", "provenance"),
        ("assumptions", "criteria", "cylinders", "road_log", "timetable", "track", "train", "tubes"),
        ("boiler", "uncertainty"),
        ("engine_test_sheet", "route"),
        ("locomotive",),
        ("helper_engine",),
        ("excursion",),
        ("day",),
    ),
    "engine": (
        ("accuracy", "own_resistance", "rated_effort", "si_text"),
        ("anchor_notes", "handbook_scope", "plausibility"),
        ("boiler",),
        ("cylinders",),
        ("map",),
        ("test_sheet",),
        ("performance",),
        ("cutoff_table", "speed_curve"),
        ("command_results", "comparison", "indicator_diagram", "tonnage_rating"),
    ),
    "journey": (
        ("kernel",),
        ("climbing", "ledgers", "setup"),
        ("least_steam", "needs", "result"),
        ("timetable",),
        ("entry_speeds", "least_fuel", "logged_run", "run"),
        ("coupler_force", "standing"),
    ),
    "planning": (
        (
            "coal",
            "finding",
            "largest_number",
            "latest_departure",
            "recovery",
            "section_choices",
            "station_times",
            "supply_reach",
            "varied_train",
        ),
        (
            "crew_card",
            "locations",
        ),
        ("rules",),
        ("trial_runs",),
        ("check",),
        ("bands", "partial_check"),
        ("checker", "load_trials"),
        ("changes", "contingencies", "load_search"),
        ("consists", "load", "remedies"),
        ("help_needed", "light_diesel", "light_engine", "supply_plans"),
        ("doubling", "supply_stretches"),
        ("answer",),
        ("economy", "helper_plan", "layover", "timetable", "water_stops"),
        ("duty", "timetable_search"),
        ("helper_duty",),
        ("day_findings",),
        ("day",),
        ("leg_remedies",),
        ("day_remedies",),
    ),
    "studies": (
        (
            "batch_rows",
            "cases",
            "cluster",
            "distributions",
            "engine_figures",
            "failure_statistics",
            "latin_hypercube",
            "log_constants",
            "log_fit",
            "log_noise",
            "result_columns",
            "workers",
        ),
        ("batch_file", "engine_columns", "log_model", "records", "told_apart", "uncertain_inputs"),
        ("log_problem", "nearby_needs", "varied_rows"),
        ("batch", "fit", "risk", "vary"),
    ),
    "survey": (
        ("heights", "wandering"),
        ("roughness", "ruling"),
        ("momentum_grades", "positions"),
        ("made_route",),
        ("editing", "examination", "tracing"),
    ),
    "report": (
        ("caution", "csv_cells", "helper_schedule", "output_files"),
        ("made_from",),
        ("accuracy",),
        ("text",),
        (
            "batch_table",
            "card_csv",
            "consist_table",
            "csv",
            "day_table",
            "fit_table",
            "html",
            "json",
            "load_table",
            "pull_table",
            "rating_table",
            "risk_table",
            "supply_table",
            "timetable_csv",
            "track_chart",
            "vary_table",
        ),
    ),
    "plot": (
        ("figure",),
        (
            "boiler",
            "compare",
            "consists",
            "diagram",
            "engine",
            "fit",
            "load",
            "panels",
            "rating",
            "risk",
            "route",
            "test_sheet",
            "variation_axes",
        ),
        ("profile", "station_names", "variation_lines", "variation_maps"),
        ("batch", "day", "economy", "helper_plan", "run", "timetable", "vary", "water_stops"),
    ),
    "scenario": (
        ("assumption_reference", "example", "route_file", "schema", "source"),
        ("file_units", "key_reference", "renamed"),
        ("template",),
        ("consist_file", "csv_table"),
        ("files",),
        ("build",),
        ("gpx", "overrides", "varied_input"),
        ("described_keys", "excursion_file", "points", "reader", "road_log", "varied_keys"),
    ),
    "units": (("format", "vocabulary"), ("parse",), ("messages",)),
    "library": (
        ("quantities", "table"),
        (
            "batch_results",
            "comparison_results",
            "consist_results",
            "engine_results",
            "excursion_results",
            "fit_results",
            "helper_results",
            "load_results",
            "risk_results",
            "route_results",
            "supply_results",
            "timetable_results",
            "vary_results",
        ),
        ("day_results", "economy_results"),
    ),
    "cli": (
        ("first_run", "streams"),
        ("app", "options", "progress_line"),
        (
            "batch",
            "consists",
            "day",
            "economy",
            "engine",
            "excursion",
            "fit",
            "helper_engine",
            "load",
            "risk",
            "route",
            "template",
            "test_sheet",
            "timetable",
            "vary",
            "water",
        ),
    ),
}
ANYWHERE = {
    "errors",
    "compiled",
    "compiled_parts",
    "code_digest",
    "files_on_disk",
    "recent",
    "side_by_side",
    "frozen",
}
ONLY_IN = {
    "pint": {"units"},
    "matplotlib": {"plot"},
    "numba": {"compiled", "compiled_parts"},
    "typer": {"cli"},
    "jinja2": {"report"},
    "seuif97": {"physics"},
    "defusedxml": {"scenario"},
    "distributed": {"studies"},
    "pyarrow": {"report"},
}
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "locosim", "scenarios", "tests", "docs"}


def _modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def _name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _room(module: str) -> str:
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


def _part(module: str) -> str:
    """Folder or file of a module inside its room."""
    parts = module.split(".")
    return parts[2] if len(parts) > 2 else ""


@cache
def _imports(path: Path) -> tuple[tuple[str, bool], ...]:
    """Names of the modules a file imports, and whether each is imported at once or only when a function runs."""
    known = {_name(p) for p in _modules()}
    tree = ast.parse(path.read_text(encoding="utf-8"))
    at_import = set(map(id, _outside_functions(tree)))
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports by full name, not relative"
            base = node.module or ""
            names = [
                f"{base}.{alias.name}" if f"{base}.{alias.name}" in known else base for alias in node.names
            ]
        else:
            continue
        found += [(name, id(node) in at_import) for name in names]
    return tuple(found)


def _outside_functions(tree: ast.AST) -> list[ast.AST]:
    """Nodes executed on import: not in functions, and not under TYPE_CHECKING."""
    found, waiting = [], [tree]
    while waiting:
        node = waiting.pop()
        found.append(node)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            continue
        waiting += list(ast.iter_child_nodes(node))
    return found


@pytest.mark.parametrize("path", _modules(), ids=_name)
def test_imports_run_one_way(path: Path) -> None:
    room = _room(_name(path))
    assert room == "" or room in BELOW, f"{room}: a room that is not in BELOW"
    allowed = BELOW.get(room, set()) | ANYWHERE | {room, ""}
    for name, _ in _imports(path):
        if name.split(".")[0] == "locosim":
            assert _room(name) in allowed, f"{_name(path)} imports {name}: {room} may not know {_room(name)}"


@pytest.mark.parametrize("path", _modules(), ids=_name)
def test_libraries_stay_in_their_rooms(path: Path) -> None:
    for name, _ in _imports(path):
        rooms = ONLY_IN.get(name.split(".")[0])
        assert rooms is None or _room(_name(path)) in rooms, f"{_name(path)} imports {name}"


def test_a_wrong_import_would_be_seen(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.py"
    wrong.write_text("def f():\n    from locosim.report import text\nimport pint\n", encoding="utf-8")
    assert set(_imports(wrong)) == {("locosim.report.text", False), ("pint", True)}


def _graph() -> dict[str, set[str]]:
    """Modules each module imports, at once or lazily.

    The root package is left out: its names are loaded on first use from anywhere.
    """
    known = {_name(path) for path in _modules()} - {"locosim"}
    return {
        _name(path): {name for name, _ in _imports(path)} & known - {_name(path)}
        for path in _modules()
        if _name(path) in known
    }


def _circle(graph: dict[str, set[str]]) -> list[str]:
    """A circle of imports, its first module repeated at the end; empty where there is none."""
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> list[str]:
        if name in trail:
            return [*trail[trail.index(name) :], name]
        if name not in done:
            for other in sorted(graph[name]):
                found = visit(other, (*trail, name))
                if found:
                    return found
            done.add(name)
        return []

    return next((found for name in sorted(graph) if (found := visit(name, ()))), [])


def test_no_modules_import_each_other_in_a_circle_lazy_imports_included() -> None:
    assert _circle(_graph()) == []


def test_a_circle_would_be_seen() -> None:
    assert _circle({"a": {"b", "d"}, "b": {"c"}, "c": {"b"}, "d": set()}) == ["b", "c", "b"]


def _misplaced(module: str, imported: set[str]) -> list[str]:
    """Imports of a module that are not below it in the order of its room."""
    room, part = _room(module), _part(module)
    level = {name: number for number, names in enumerate(ORDER[room]) for name in names}
    assert part in level, f"{module}: place {part!r} in ORDER[{room!r}]"
    others = {name for name in imported if _room(name) == room and _part(name) not in ("", part)}
    return sorted(name for name in others if level.get(_part(name), len(level)) >= level[part])


@pytest.mark.parametrize("room", ORDER)
def test_imports_inside_a_room_follow_its_order(room: str) -> None:
    for module, imported in _graph().items():
        if _room(module) == room and _part(module):
            assert _misplaced(module, imported) == [], f"{module} imports from its own level or above"


def test_every_room_with_files_has_an_order() -> None:
    assert {_room(name) for name in _graph() if _part(name)} <= set(ORDER)


def test_an_import_against_the_order_would_be_seen() -> None:
    above = {"locosim.engine.map.cached", "locosim.engine.si_text", "locosim.model"}
    assert _misplaced("locosim.engine.boiler.steam_supply", above) == ["locosim.engine.map.cached"]


def _is_hashed(path: Path) -> bool:
    """Whether a file counts for the hash under which machine code is stored."""
    return any(path in PACKAGE.glob(pattern) for pattern in COMPILED)


def _has_compiled_functions(path: Path) -> bool:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return path != PACKAGE / "compiled.py" and any(
        isinstance(node, ast.FunctionDef)
        and any(ast.unparse(decorator).startswith("compiled") for decorator in node.decorator_list)
        for node in ast.walk(tree)
    )


@pytest.mark.parametrize("path", list(filter(_has_compiled_functions, _modules())), ids=_name)
def test_machine_code_is_stored_under_a_hash_of_all_it_depends_on(path: Path) -> None:
    files = {_name(each): each for each in _modules()}
    assert _is_hashed(path), f"{_name(path)} has compiled functions and is not in locosim.compiled.COMPILED"
    for name, _ in _imports(path):
        if name in files and name not in ("locosim.compiled", "locosim.errors", "locosim.frozen"):
            assert _is_hashed(files[name]), f"{_name(path)} imports {name}, which is not in COMPILED"


def test_there_are_compiled_functions_to_look_at() -> None:
    assert sum(map(_has_compiled_functions, _modules())) > 5
    assert not _is_hashed(PACKAGE / "errors.py")


def _alike(one: str, other: str) -> bool:
    """Whether two names differ by one letter, or only in the order of their words."""
    if sorted(one.split("_")) == sorted(other.split("_")):
        return True
    short, long = sorted((one, other), key=len)
    if len(long) - len(short) > 1:
        return False
    same = next((at for at, sign in enumerate(short) if sign != long[at]), len(short))
    return short[same + (len(short) == len(long)) :] == long[same + 1 :]


def test_no_two_files_have_nearly_the_same_name() -> None:
    # Files of one name in different rooms are about one subject; folders are read with the name of their room.
    names = sorted({path.stem for path in _modules()})
    assert [pair for pair in combinations(names, 2) if _alike(*pair)] == []


def test_names_nearly_the_same_would_be_seen() -> None:
    assert _alike("boiler_table", "boiler_tables")
    assert _alike("speed_curve", "curve_speed")
    assert _alike("feed", "feet")
    assert not _alike("run", "csv")
    assert not _alike("heat_balance", "by_heat_balance")


def test_the_command_line_starts_without_heavy_libraries() -> None:
    code = "import sys, locosim.cli; print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.split()
    assert {"scipy", "pint", "numba", "matplotlib", "numpy", "jinja2", "seuif97"} & set(loaded) == set()


def test_no_file_is_a_collection_of_odds_and_ends() -> None:
    collections = ("util", "utils", "helper", "helpers", "manager", "managers", "misc", "common")
    assert [path for path in _modules() if path.stem in collections] == []


def test_top_level_has_the_agreed_entries() -> None:
    listed = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT)
    if listed.returncode == 0 and listed.stdout:
        names = {line.partition("/")[0].strip('"') for line in listed.stdout.splitlines()}
    else:  # not a clone: list the folder itself
        names = set(os.listdir(ROOT))
    names = {name for name in names if not name.startswith(".")}
    assert names <= TOP_LEVEL
    assert names >= TOP_LEVEL


def test_every_folder_of_the_package_is_a_package() -> None:
    for path in _modules():
        assert (path.parent / "__init__.py").exists(), f"{path.parent} has no __init__.py"
