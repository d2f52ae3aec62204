"""The check as one HTML file that needs no network, and no script to be whole."""

from __future__ import annotations

import re
from collections.abc import Sequence

from jinja2 import Environment, PackageLoader, StrictUndefined

from locosim import __version__
from locosim.model import Vehicle
from locosim.planning.check import Check
from locosim.planning.contingencies import Contingency
from locosim.planning.finding import CLEAR, Finding
from locosim.report.caution import CAUTION, METHODS
from locosim.report.html import readout as read_out
from locosim.report.text import check as check_text
from locosim.report.text import contingencies as contingency_text
from locosim.report.text import run as run_text
from locosim.report.text.engine import engine_lines
from locosim.report.text.layout import format_text, margin_text
from locosim.units import show

# Names in a picture that refer to each other; two pictures on a page must not share them.
_SVG_IDS = re.compile(r'(?<=[\s<]id=")|(?<=href="#)|(?<=url\(#)')


def check_html(
    check: Check,
    contingencies: Sequence[Contingency],
    latest: float | None,
    system: str,
    *,
    run_svg: bytes,
    run_panel_span: tuple[float, float],
    engine_svg: bytes,
) -> str:
    """Write a check as a page.

    Args:
        check: The excursion judged.
        contingencies: The check again with something gone wrong.
        latest: Latest departure that keeps every advertised arrival, on the clock [s].
        system: Units, `us`, `metric` or `british`.
        run_svg: The run, drawn as SVG.
        run_panel_span: Where its panels begin and end, as shares of the picture's width [1].
        engine_svg: The engine's speed curve, drawn as SVG.
    """
    journey = check.journey
    departure = contingency_text.departure_line(latest, check, system)
    script = read_out.script()
    environment = Environment(
        loader=PackageLoader("locosim.report.html", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("check_page.html").render(
        version=__version__,
        script=script,
        csp_script_hash=read_out.csp_script_hash(script),
        samples=read_out.samples_json(journey, system, left=run_panel_span[0], right=run_panel_span[1]),
        caution=CAUTION,
        name=journey.excursion.name,
        verdict=check.verdict,
        summary=[line for line in (*check_text.summary_lines(check, system), departure) if line],
        flagged=[_finding_block(f, system) for f in check.findings if f.verdict != CLEAR],
        run_svg=_inline_svg(run_svg, "run"),
        stop_headers=[head.replace("\n", ", ") for head in run_text.stop_headers(system)],
        stops=run_text.stop_rows(journey, system),
        finding_headers=check_text.HEADERS,
        findings=[check_text.finding_row(f, system) for f in check.findings],
        contingency_headers=contingency_text.HEADERS,
        contingencies=contingency_text.contingency_rows(contingencies),
        contingency_summary=contingency_text.contingency_outcome(contingencies),
        engine=[journey.excursion.locomotive.name, *engine_lines(journey.performance, system)],
        engine_svg=_inline_svg(engine_svg, "engine"),
        vehicles=[_vehicle(v, system) for v in journey.excursion.train.vehicles],
        method=f"Method: {METHODS[journey.performance.method]}.",
        notes=journey.performance.notes,
        totals=run_text.totals_line(journey, system),
        ledger_headers=run_text.LEDGER_HEADERS,
        ledgers=run_text.ledger_rows(journey),
    )


def _finding_block(finding: Finding, system: str) -> dict[str, str]:
    because = format_text(finding.because, finding.facts, system)
    return {
        "verdict": finding.verdict,
        "rule": finding.rule,
        "place": finding.place,
        "value": finding.value_text or show(finding.value, finding.kind, system),
        "limit": show(finding.limit, finding.kind, system),
        "margin": margin_text(finding.margin),
        "because": because[:1].upper() + because[1:],
        "remedy": format_text(finding.remedy, finding.facts, system),
    }


def _vehicle(vehicle: Vehicle, system: str) -> tuple[str, ...]:
    law = vehicle.resistance_law.replace("_", " ")
    return vehicle.name, str(vehicle.count), show(vehicle.mass, "mass", system), law


def _inline_svg(picture: bytes, prefix: str) -> str:
    """An SVG drawing as part of the page: without its head, and with names of its own."""
    text = picture.decode("utf-8")
    return _SVG_IDS.sub(f"{prefix}-", text[text.index("<svg") :])
