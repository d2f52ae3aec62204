"""The check as one HTML file that needs no network, and no script to be whole."""

from __future__ import annotations

import re
from collections.abc import Sequence

from jinja2 import Environment, PackageLoader, StrictUndefined

from locosim import __version__
from locosim.model import Vehicle
from locosim.planning.check import Check
from locosim.planning.contingencies import Trial
from locosim.planning.finding import CLEAR, Finding
from locosim.report.caution import CAUTION, METHODS
from locosim.report.html import readout as read_out
from locosim.report.text import check as check_text
from locosim.report.text import contingencies as trials_text
from locosim.report.text import run as run_text
from locosim.report.text.engine import engine_lines
from locosim.report.text.layout import margin_text, said
from locosim.units import show

# Names in a picture that refer to each other; two pictures on a page must not share them.
_NAMES = re.compile(r'(?<=[\s<]id=")|(?<=href="#)|(?<=url\(#)')


def check_html(
    check: Check,
    trials: Sequence[Trial],
    latest: float | None,
    system: str,
    *,
    run_picture: bytes,
    run_span: tuple[float, float],
    engine_picture: bytes,
) -> str:
    """Write a check as a page.

    Args:
        check: The excursion judged.
        trials: The check again with something gone wrong.
        latest: Latest departure that keeps every advertised arrival, on the clock [s].
        system: Units, `us`, `metric` or `british`.
        run_picture: The run, drawn as SVG.
        run_span: Where its panels begin and end, as shares of the picture's width [1].
        engine_picture: The engine's speed curve, drawn as SVG.
    """
    journey = check.journey
    departure = trials_text.departure_line(latest, check, system)
    script = read_out.script()
    room = Environment(
        loader=PackageLoader("locosim.report.html", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return room.get_template("check_page.html").render(
        version=__version__,
        script=script,
        script_hash=read_out.script_hash(script),
        samples=read_out.samples_json(journey, system, left=run_span[0], right=run_span[1]),
        caution=CAUTION,
        name=journey.excursion.name,
        verdict=check.verdict,
        summary=[line for line in (*check_text.summary_lines(check, system), departure) if line],
        grave=[_explained(f, system) for f in check.findings if f.verdict != CLEAR],
        run_picture=_inline(run_picture, "run"),
        stop_heads=[head.replace("\n", ", ") for head in run_text.stop_heads(system)],
        stops=run_text.stop_rows(journey, system),
        finding_heads=check_text.HEADS,
        findings=[check_text.cells(f, system) for f in check.findings],
        trial_heads=trials_text.HEADS,
        trials=trials_text.trial_rows(trials),
        trials_said=trials_text.trials_outcome(trials),
        engine=[journey.excursion.locomotive.name, *engine_lines(journey.performance, system)],
        engine_picture=_inline(engine_picture, "engine"),
        vehicles=[_vehicle(v, system) for v in journey.excursion.train.vehicles],
        method=f"Method: {METHODS[journey.performance.method]}.",
        assumed=journey.performance.notes,
        totals=run_text.totals_line(journey, system),
        book_heads=run_text.BOOK_HEADS,
        books=run_text.book_rows(journey),
    )


def _explained(finding: Finding, system: str) -> dict[str, str]:
    because = said(finding.because, finding.facts, system)
    return {
        "verdict": finding.verdict,
        "rule": finding.rule,
        "place": finding.place,
        "value": finding.words or show(finding.value, finding.kind, system),
        "limit": show(finding.limit, finding.kind, system),
        "margin": margin_text(finding.margin),
        "because": because[:1].upper() + because[1:],
        "remedy": said(finding.remedy, finding.facts, system),
    }


def _vehicle(vehicle: Vehicle, system: str) -> tuple[str, ...]:
    law = vehicle.resistance.replace("_", " ")
    return vehicle.name, str(vehicle.count), show(vehicle.mass, "mass", system), law


def _inline(picture: bytes, prefix: str) -> str:
    """An SVG drawing as part of the page: without its head, and with names of its own."""
    text = picture.decode("utf-8")
    return _NAMES.sub(f"{prefix}-", text[text.index("<svg") :])
