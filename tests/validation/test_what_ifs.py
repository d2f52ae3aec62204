"""Changes to an engine and to a run move what the trade expects, by about as much.

The expectations stand in docs/build/what_ifs.toml with their sources, written before the changes were computed.
"""

from __future__ import annotations

import pytest

from docs.build import what_ifs

CASES = [(stated["name"], quantity) for stated in what_ifs.stated_rows() for quantity in stated["expect"]]


def row(name: str) -> what_ifs.Row:
    return next(each for each in what_ifs.rows() if each.name == name)


@pytest.mark.parametrize(("name", "quantity"), CASES)
def test_a_change_has_the_expected_direction_and_size(name: str, quantity: str) -> None:
    """Within the expected range, or outside it with a reason on the page."""
    found = row(name)
    assert found.met(quantity) == (quantity not in found.reasons), (
        f"{name}: {quantity} changes by {found.change(quantity):+.2f}, expected {found.expected[quantity]}"
    )


@pytest.mark.parametrize("stated", what_ifs.stated_rows(), ids=lambda stated: stated["name"])
def test_an_expectation_has_a_source_and_can_fail(stated: dict) -> None:
    assert len(stated["source"]) > 10
    for quantity, (least, most) in stated["expect"].items():
        assert quantity in what_ifs.QUANTITIES
        assert least < most
        assert most - least <= 45.0  # a wider range could hardly fail
    assert set(stated.get("missed", {})) <= set(stated["expect"])


def test_most_expectations_are_met() -> None:
    assert len(what_ifs.rows()) >= 25
    assert sum(not each.missed for each in what_ifs.rows()) >= 25


def test_no_wider_nozzle_gives_draft_and_power_both() -> None:
    """A nozzle trades power for draft: less back pressure and more power, or the reverse."""
    wider, narrower = row("nozzle wider"), row("nozzle narrower")
    assert wider.change("power_fast") > 0.0 > wider.change("back_pressure")
    assert narrower.change("power_fast") < 0.0 < narrower.change("back_pressure")


def test_the_page_shows_what_is_computed() -> None:
    found = what_ifs.PAGE.read_text(encoding="utf-8")
    assert found == what_ifs.rendered(), "run `python -m docs.build.what_ifs` and review the changes"
