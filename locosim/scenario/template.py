"""Templates: a commented skeleton of each kind of file, generated from the declarations of the model."""

from __future__ import annotations

import math
import textwrap
from dataclasses import is_dataclass
from pathlib import Path
from typing import NamedTuple

from locosim import units
from locosim.errors import LocosimError, OutputExists, system_reason
from locosim.files_on_disk import write_whole
from locosim.model.assumptions import Assumptions
from locosim.scenario.file_units import default_written, range_written, written
from locosim.scenario.schema import FILE_KINDS, Key, example, example_line, keys_of, range_text

_WIDTH = 100

# Values, by class, number of the item and key, where the declared example would not fit the rest of the file.
_TEMPLATE_VALUES: dict[tuple[str, int, str], str] = {
    ("Locomotive", 1, "name"): '"My engine"',
    ("Train", 1, "name"): '"My train"',
    ("Vehicle", 1, "name"): '"Coach"',
    ("Route", 1, "name"): '"My line"',
    ("Excursion", 1, "name"): '"My excursion"',
    ("Day", 1, "name"): '"My day"',
    ("Leg", 1, "excursion"): '"excursion.toml"',
    ("ProfilePoint", 1, "chainage"): '"0 mile"',
    ("ProfilePoint", 1, "grade"): '"1 in 80"',
    ("ProfilePoint", 2, "chainage"): '"12 mile 43 chain"',
    ("Station", 1, "name"): '"First"',
    ("Station", 1, "chainage"): '"0 mile"',
    ("Station", 2, "name"): '"Last"',
    ("Station", 2, "chainage"): '"12 mile 43 chain"',
    ("Stop", 1, "station"): '"First"',
    ("Stop", 2, "station"): '"Last"',
    ("Excursion", 1, "locomotive"): '"engine.toml"',
    ("Helper", 1, "locomotive"): '"engine.toml"',
    ("Helper", 1, "from_station"): '"First"',
    ("Helper", 1, "to_station"): '"Last"',
    ("Superheater", 1, "surface"): '"900 ft^2"',
    # A ten-wheeler whose figures hang together: factor of adhesion 4.2, 75 of heating surface to 1 of grate.
    ("Locomotive", 1, "mass"): '"172000 lb"',
    ("Locomotive", 1, "length"): '"40 ft"',
    ("Locomotive", 1, "truck_axles"): "2",
    ("Boiler", 1, "grate_area"): '"33 ft^2"',
    ("Boiler", 1, "firebox_surface"): '"175 ft^2"',
    ("Boiler", 1, "tube_surface"): '"2300 ft^2"',
    ("EngineUnit", 1, "mass_on_drivers"): '"125000 lb"',
    ("Cylinders", 1, "bore"): '"20 in"',
    ("Cylinders", 1, "stroke"): '"26 in"',
    ("Tender", 1, "empty_mass"): '"48000 lb"',
    ("Tender", 1, "water_capacity"): '"6000 us_gallon"',
    ("Tender", 1, "fuel_capacity"): '"10 short_ton"',
    ("EngineUnit", 1, "driving_axles"): "3",
    ("Cylinders", 1, "number"): "2",
    ("Tender", 1, "axles"): "4",
}
_INTRO_LINES = {
    "engine": "Enter present dimensions: tires as turned, cylinders as rebored.",
    "train": "Vehicles in order, front first; the locomotive has its own file.",
    "route": 'The profile may also be a CSV file: profile = "profile.csv", one row per point.',
    "day": "A leg may also have its excursion in tables: [legs.excursion], [[legs.excursion.stops]] and so on.",
    "excursion": "Paths of other files are relative to this one.",
}


def write_template(kind: str, path: str | Path, system: str = units.SYSTEMS[0]) -> Path:
    """Write a template with every key explained, the optional ones commented out.

    Args:
        kind: `engine`, `train`, `route`, `excursion` or `day`; an excursion names engine.toml, train.toml and
            route.toml in the same folder.
        path: The file to write.
        system: System of units of its values and ranges: `us`, `metric` or `british`.

    Returns:
        The path of the file written.

    Raises:
        OutputExists: If the file exists; it is not changed.
        LocosimError: If the kind is not one of the five, the suffix is not .toml, or the file cannot be written.
    """
    text = template(kind, system)
    target = Path(path)
    if target.suffix.lower() != ".toml":
        raise LocosimError(
            f"{target}: the name of this file must end in .toml, for example {target.stem or kind}.toml"
        )
    try:
        write_whole(target, text.encode(), new=True)
    except FileExistsError:
        raise OutputExists(f"{target} already exists; give another name or remove it first") from None
    except OSError as error:
        raise LocosimError(f"{target} cannot be written: {system_reason(error)}") from None
    return target


def template(kind: str, system: str = units.SYSTEMS[0]) -> str:
    """The text of a template; for the kinds see `write_template`."""
    if kind not in FILE_KINDS:
        raise LocosimError(f"no template for {kind!r}; there are {', '.join(FILE_KINDS)}")
    model, article_name = FILE_KINDS[kind]
    head = [
        f"# Template for {article_name} file. Every value is an example: replace it.",
        f"# {_INTRO_LINES[kind]}",
        "# Keys after a # are optional; they show the default, or an example if there is no default.",
        "# To use an optional table, remove one # from each of its lines.",
        "",
    ]
    return "\n".join([*head, *_body_lines(model, "", 1, _Style("", system))]).rstrip() + "\n"


class _Style(NamedTuple):
    """How lines are written.

    Attributes:
        comment_prefix: Start of every line: `# ` if the whole table is optional.
        system: System of units.
    """

    comment_prefix: str
    system: str


def _body_lines(model: type, path: str, number: int, style: _Style) -> list[str]:
    """The keys of one table, then the tables in it.

    Args:
        model: The description.
        path: Its key in the file.
        number: Number of the item in its list, from 1.
        style: How lines are written.
    """
    if model is Assumptions:
        return []  # docs/assumptions.md lists them
    keys = list(keys_of(model).values())
    single = [key for key in keys if not _is_own_table(key)]
    lines: list[str] = []
    for key in single:
        lines += _key_lines(model, key, number, style)
    for key in keys:
        if _is_own_table(key) and not (style.comment_prefix and path.count(".") > 1):
            lines += _table_lines(key, f"{path}.{key.name}".lstrip("."), style)
    return lines


def _is_own_table(key: Key) -> bool:
    """Whether a key is a table rather than a line."""
    return key.kind in ("table", "table_list") and not key.may_be("file")


def _key_lines(model: type, key: Key, number: int, style: _Style) -> list[str]:
    """The line of a key, with its meaning above it."""
    preset = _TEMPLATE_VALUES.get((model.__name__, number, key.name))
    line = (
        f"{key.name} = {written(key, preset, style.system)}" if preset else _default_line(key, style.system)
    )
    if number > 1 and not key.required and not preset:
        return []  # explained at the first item
    optional = "" if key.required or preset else "# "
    meaning = _comment_lines(key, style.system) if number == 1 else []
    prefix = style.comment_prefix
    return [f"{prefix}# {text}" for text in meaning] + [f"{prefix}{optional}{line}"]


def _default_line(key: Key, system: str) -> str:
    """A line with the default, or with the example if there is no default."""
    default = key.field_info.default
    if key.kind != "measure":
        return example_line(key)
    shown = example(key)
    if key.unit in ("", "clock") or not isinstance(default, int | float):
        return f"{key.name} = {written(key, shown, system)}"
    is_default = math.isclose(units.si(shown.strip('"'), key.unit), default, rel_tol=1e-6)
    if is_default and written(key, shown, system) == shown:
        return f"{key.name} = {shown}"
    return f"{key.name} = {default_written(key, default, system)}"


def _comment_lines(key: Key, system: str) -> list[str]:
    """Comment lines with the meaning and the range of a key."""
    parts = [key.doc.rstrip(".")]
    if key.options:
        parts.append(f"one of {', '.join(key.options)}")
    elif bounds := _range_text(key, system):
        parts.append(bounds)
    return textwrap.wrap("; ".join(parts) + ".", _WIDTH)


def _range_text(key: Key, system: str) -> str:
    """The range of a number in words; empty for other keys."""
    if key.kind == "measure":
        return range_written(key, system)
    return range_text(key) if key.kind == "integer" else ""


def _table_lines(key: Key, path: str, style: _Style) -> list[str]:
    """A table, or as many items of a list as are required, at least one."""
    model = key.model
    if model is None or not is_dataclass(model):
        return []
    optional = style.comment_prefix or ("" if key.required else "# ")
    is_list = key.kind == "table_list"
    count = max(1, int(key.field_info.metadata.get("at_least") or 1)) if is_list else 1
    lines = []
    for number in range(1, count + 1):
        heading = f"[[{path}]]" if is_list else f"[{path}]"
        meaning = [f"# {text}" for text in _comment_lines(key, style.system)] if number == 1 else []
        lines += [
            "",
            *meaning,
            f"{optional}{heading}",
            *_body_lines(model, path, number, _Style(optional, style.system)),
        ]
    return lines
