"""Figures too small and files too large to mean anything are refused, with what is allowed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from locosim.errors import LocosimError, ScenarioError
from locosim.loading import load_excursion

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


@pytest.fixture
def spring(tmp_path: Path) -> Path:
    """A copy of the bundled excursion whose files may be changed."""
    shutil.copytree(SCENARIOS, tmp_path / "scenarios")
    return tmp_path / "scenarios" / "excursions" / "spring_special.toml"


@pytest.mark.parametrize(
    "change",
    [
        "crew.max_speed=1e-8 mph",
        "route.speed_limit=1e-8 mph",
        "locomotive.max_speed=1e-8 mph",
        "locomotive.max_speed_tender_first=1e-8 mph",
    ],
)
def test_a_speed_at_which_no_train_runs_is_refused(change: str, spring: Path) -> None:
    with pytest.raises(ScenarioError, match=r"must be above 0\.5 m/s"):
        load_excursion(spring, changes=[change])


def test_two_stations_at_one_place_are_refused(spring: Path) -> None:
    route = spring.parents[1] / "routes" / "quernby_line.toml"
    text = route.read_text()
    place = 'name = "Hoaram"\nchainage = "26.5 km"'
    assert place in text
    route.write_text(text.replace(place, 'name = "Hoaram"\nchainage = "14.500005 km"'))
    with pytest.raises(ScenarioError, match=r"must be at least 0\.01 km beyond the station before it"):
        load_excursion(spring)
    route.write_text(text.replace(place, 'name = "Hoaram"\nchainage = "14.6 km"'))
    load_excursion(spring)


@pytest.mark.parametrize(("length", "allowed"), [(90, True), (101, False), (100_000, False)])
def test_a_name_has_an_end(length: int, allowed: bool, spring: Path) -> None:
    text = spring.read_text()
    spring.write_text(text.replace("Spring special, Ambersyke to Quernby", "x" * length))
    if allowed:
        assert load_excursion(spring).name == "x" * length
    else:
        with pytest.raises(
            ScenarioError, match=f"must have at most 100 characters, found {length}|at most 4000"
        ):
            load_excursion(spring)


def test_a_table_of_a_million_rows_is_refused_at_once(spring: Path) -> None:
    profile = spring.parents[1] / "routes" / "quernby_line.csv"
    rows = "\n".join(f"{0.0001 * row:.4f},10" for row in range(1_000_000))
    profile.write_text(f"chainage [km],elevation [m]\n{rows}\n")
    with pytest.raises(LocosimError, match="at most 100000 are read"):
        load_excursion(spring)


@pytest.mark.parametrize("cell", ["inf", "nan", "-inf", "1e999"])
def test_a_cell_without_end_is_refused(cell: str, spring: Path) -> None:
    profile = spring.parents[1] / "routes" / "quernby_line.csv"
    profile.write_text(profile.read_text().rstrip() + f"\n{cell},{cell}\n")
    with pytest.raises(ScenarioError, match=r"quernby_line\.csv: row \d+"):
        load_excursion(spring)
