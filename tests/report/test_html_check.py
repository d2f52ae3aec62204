"""The HTML report: one whole file, escaped, the same figures as the text, the cautions at both ends."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import tomllib
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from typer.testing import CliRunner

from locosim.cli import app

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
VOID = {"meta", "br", "hr", "img", "link", "input"}


def report(path: Path, folder: Path, *options: str) -> str:
    target = folder / "report.html"
    result = CliRunner().invoke(
        app, ["check", str(path), "--change", "method=handbook", "--report", str(target), "--force", *options]
    )
    assert result.exit_code in (0, 1), result.output
    return target.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    return report(SCENARIOS / "excursions" / "harvest_excursion.toml", tmp_path_factory.mktemp("report"))


class Reader(HTMLParser):
    """Collects tags, attributes and text, and checks that tags are closed in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


@cache
def read(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    reader.close()
    assert reader.open == []
    return reader


def test_it_asks_for_nothing_from_elsewhere_and_allows_its_own_script_only(page: str) -> None:
    reader = read(page)
    assert reader.tags.count("script") == 2  # the samples, and the read-out
    own = page[page.rindex("<script>") + len("<script>") : page.rindex("</script>")]
    digest = base64.b64encode(hashlib.sha256(own.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in page
    assert not {"link", "iframe", "object", "embed", "img"} & set(reader.tags)
    for name, value in reader.attributes:
        assert not name.startswith("on")
        if name in ("src", "href", "xlink:href"):
            assert value.startswith("#"), value
    outside = re.findall(r"url\((?!#)[^)]*\)|@import", page)
    assert outside == []
    assert "default-src 'none'" in page


def test_names_are_unique_and_lead_somewhere(page: str) -> None:
    reader = read(page)
    names = [value for name, value in reader.attributes if name == "id"]
    assert len(names) == len(set(names))
    used = {v[1:] for name, v in reader.attributes if name in ("href", "xlink:href")}
    used |= set(re.findall(r"url\(#([^)]*)\)", page))
    assert used <= set(names)


def test_the_cautions_stand_at_top_and_bottom(page: str) -> None:
    text = " ".join(" ".join(read(page).text).split())
    assert text.count("the boiler certificate, the railway's rules and the licensed people") == 2
    assert re.findall(r"\bsafe(ly)?\b", text.lower()) == []


def test_it_holds_verdict_findings_method_and_both_pictures(page: str) -> None:
    reader = read(page)
    text = " ".join(" ".join(reader.text).split())
    assert reader.tags.count("svg") == 2
    for part in (
        "stop stall",
        "Remedy tried:",
        "handbook",
        "Heavy twelve",
        "Tarn Hollow",
        "speed [mph]",
    ):
        assert part in text
    assert "margin -" in text
    assert "locosim 0.1.0: No. 41 Teasel, 2-8-0; Heavy twelve; Main line" in text


def test_units_are_those_asked_for(tmp_path: Path) -> None:
    text = report(SCENARIOS / "excursions" / "spring_special.toml", tmp_path, "--units", "metric")
    words = " ".join(read(text).text)
    assert "km/h" in words
    assert "mph" not in words


def test_names_of_the_users_are_text_and_nothing_else(tmp_path: Path) -> None:
    source = SCENARIOS / "excursions" / "spring_special.toml"
    text = source.read_text(encoding="utf-8").replace('"../', f'"{SCENARIOS}/')
    name = tomllib.loads(text)["name"]
    path = tmp_path / "own.toml"
    path.write_text(text.replace(name, "<b>A & B</b> $x^2$ <script>alert(1)</script>"), encoding="utf-8")
    page = report(path, tmp_path)
    assert read(page).tags.count("script") == 2
    assert "b" not in read(page).tags
    assert "&lt;script&gt;" in page
    assert "A &amp; B" in page


def test_it_is_small_enough_to_be_sent(page: str) -> None:
    assert len(page.encode()) < 600_000


def test_it_is_the_same_twice(page: str, tmp_path: Path) -> None:
    assert report(SCENARIOS / "excursions" / "harvest_excursion.toml", tmp_path) == page


def test_the_samples_span_the_run_and_stand_in_order(page: str) -> None:
    found = json.loads(re.search(r'id="samples">(.*?)</script>', page, re.S)[1])
    places = [row[0] for row in found["rows"]]
    assert places == sorted(set(places))
    assert places[0] == 0.0
    assert 300 < len(places) <= 500
    assert all(len(row) == len(found["headers"]) for row in found["rows"])
    assert 0.0 < found["left"] < found["right"] < 1.0
