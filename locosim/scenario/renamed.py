"""Former names of file keys and choice values, and their present names.

One table serves the reader, `--change`, the headings of CSV files and the changelog.
"""

from __future__ import annotations

from collections.abc import Iterator

from locosim.scenario.schema import FILE_KINDS, keys_of, table_line

# By class of the model: former key, present key.
RENAMED_KEYS: dict[str, dict[str, str]] = {
    "Locomotive": {
        "carrying_axles": "truck_axles",
        "steam_ways": "steam_passages",
        "rotating_allowance": "rotating_mass_fraction",
        "curve_radius_least": "min_curve_radius",
        "speed_greatest": "max_speed",
        "speed_greatest_tender_first": "max_speed_tender_first",
        "rated_coefficient": "tractive_effort_factor",
    },
    "Boiler": {
        "barrel_diameter": "shell_inside_diameter",
        "barrel_length": "water_space_length",
        "crown_length": "crown_sheet_length",
        "crown_height": "crown_sheet_height",
        "crown_slope": "crown_sheet_slope",
        "glass_least_cover": "crown_sheet_cover_at_glass_bottom",
    },
    "EngineUnit": {
        "driving_wheel_diameter": "driver_diameter",
        "coupled_axles": "driving_axles",
        "adhesive_mass": "mass_on_drivers",
        "cutoff_greatest": "max_cutoff",
        "cutoff_least": "min_cutoff",
    },
    "Cylinders": {"steam_from": "steam_source"},
    "SteamPassages": {
        "vacuum_over_back_pressure": "draft_to_back_pressure_ratio",
        "steam_discharge": "admission_discharge_coefficient",
        "exhaust_discharge": "exhaust_discharge_coefficient",
        "leakage_share": "leakage_area_ratio",
        "condensing_coefficient": "wet_wall_heat_transfer",
        "dry_coefficient": "dry_wall_heat_transfer",
    },
    "Tender": {"mass_empty": "empty_mass"},
    "FeedDevice": {"rate_greatest": "max_rate", "rate_least": "min_rate"},
    "Auxiliaries": {
        "air_compressor": "air_compressor_steam",
        "air_compressors": "air_compressor_count",
    },
    "Train": {"coupler_pull_greatest": "max_coupler_pull"},
    "Vehicle": {
        "tare": "empty_mass",
        "resistance": "resistance_law",
        "own_resistance": "custom_resistance",
        "brake_ratio": "braking_ratio",
        "rotating_allowance": "rotating_mass_fraction",
    },
    "Route": {
        "rail_stretches": "rail_condition_zones",
        "curve_law": "curve_resistance_law",
        "axle_load_greatest": "axle_load_limit",
    },
    "ProfilePoint": {"gradient": "grade"},
    "Excursion": {
        "calls": "stops",
        "assistance": "helpers",
        "water_at_start": "initial_water",
        "fuel_at_start": "initial_fuel",
    },
    "Weather": {"head_wind": "headwind"},
    "Crew": {
        "speed_greatest": "max_speed",
        "cutoff_greatest": "max_cutoff",
        "firing_greatest": "max_firing",
    },
    "Criteria": {
        "margin_tight": "tight_margin",
        "climbing_speed_least": "min_climbing_speed",
        "lateness_greatest": "max_lateness",
        "starting_acceleration": "min_starting_acceleration",
        "stopping_distance_greatest": "max_stopping_distance",
        "brake_reaction": "brake_reaction_time",
        "driver_speed_greatest": "max_driver_rotation",
        "piston_speed_greatest": "max_piston_speed",
        "pressure_least": "min_boiler_pressure",
        "ash_greatest": "max_ash_per_grate_area",
        "crown_cover_least": "min_crown_sheet_cover",
    },
    "Diesel": {"starting_pull": "starting_tractive_effort"},
}

# By class of the model and present key: former value, present value.
RENAMED_CHOICES: dict[tuple[str, str], dict[str, str]] = {
    ("FeedDevice", "kind"): {
        "exhaust_injector": "exhaust_steam_injector",
        "pump_with_heater": "pump_with_feedwater_heater",
    },
    ("Vehicle", "resistance_law"): {
        "frank_passenger_coaches": "frank_passenger_cars",
        "frank_goods_locomotive": "frank_freight_locomotive",
        "frank_goods_wagons": "frank_freight_cars",
        "strahl_express_coaches": "strahl_express_cars",
        "strahl_ordinary_coaches": "strahl_passenger_cars",
        "strahl_freight_full_open": "strahl_freight_loaded_gondolas",
        "strahl_freight_empty_open": "strahl_freight_empty_gondolas",
        "own": "custom",
    },
    ("Vehicle", "kind"): {"coach": "passenger_car", "freight": "freight_car"},
    ("Route", "curve_resistance_law"): {"roeckl_metre_gauge": "roeckl_meter_gauge"},
    ("Excursion", "direction"): {"backward": "reverse"},
    ("Excursion", "engine_facing"): {"chimney_first": "stack_first"},
    ("Fuel", "kind"): {"sub_bituminous": "subbituminous"},
    ("Crew", "habit"): {
        "hold_line_speed": "hold_speed_limit",
        "nurse_the_boiler": "save_steam_before_climbs",
    },
}


def present_key(model: type, name: str) -> str | None:
    """The present name of a former key of a description; None if it is not a former key."""
    return RENAMED_KEYS.get(model.__name__, {}).get(name)


def present_choice(model: type, key: str, value: object) -> str | None:
    """The present name of a former value of a key; None if it is not a former value."""
    return RENAMED_CHOICES.get((model.__name__, key), {}).get(value) if isinstance(value, str) else None


def renamings() -> Iterator[tuple[str, str, str]]:
    """Every renaming as class of the model, former text and present text, in the notation of a file."""
    for model, keys in RENAMED_KEYS.items():
        for former, present in keys.items():
            yield model, former, present
    for (model, key), values in RENAMED_CHOICES.items():
        for former, present in values.items():
            yield model, f'{key} = "{former}"', f'{key} = "{present}"'


def renaming_table() -> str:
    """The table of all renamings for the changelog, in Markdown."""
    tables = dict(_table_names())
    rows = [f"| {tables[model]} | `{former}` | `{present}` |" for model, former, present in renamings()]
    return "\n".join(["| where | was | now |", "|---|---|---|", *rows]) + "\n"


def _table_names() -> Iterator[tuple[str, str]]:
    """Class of the model and the table of a file it describes."""
    for kind, (model, _) in FILE_KINDS.items():
        yield model.__name__, f"{kind} file"
        pending = [("", model)]
        while pending:
            path, outer = pending.pop(0)
            for key in keys_of(outer).values():
                if key.model is not None and not key.may_be("file"):
                    inner = f"{path}.{key.name}".lstrip(".")
                    yield key.model.__name__, f"{kind} file, `{table_line(key).replace(key.name, inner)}`"
                    pending.append((inner, key.model))
