"""The page docs/validation.md, put together from the sections."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from . import boiler, cards, factors, old_road, power, purdue, road, small, steam_rates, trends
from .comparison import POWER, TARGETS, Comparison, Grid, Section
from .engines import ROOT, STATUS, engine, engine_names

PAGE = ROOT / "docs" / "validation.md"
IMAGES = ROOT / "docs" / "images"
SECTIONS = (
    power.indicated_power,
    power.drawbar_power,
    power.german_ratings,
    purdue.steam_rates,
    boiler.purdue_coal,
    steam_rates.modern_engines,
    factors.speed_factors,
    boiler.evaporation,
    boiler.efficiency,
    purdue.reprint_rows,
    cards.mean_pressures,
    road.big_articulated,
    old_road.grade_haulage,
    old_road.old_resistance,
    old_road.old_service,
    small.valves,
    small.storage,
)
NOT_COMPUTED = (
    (
        "110,000 lb/h for 6,600 ihp, and 63,000 lb/h for 4,000 ihp",
        "engine and dimensions are not given with them",
    ),
    ("cutoff of 58 % at 6,600 ihp and 75 mph", "a doubtful reading"),
    ("LMS Princess Royal, 2,500 ihp; Nord 231 E, 3,400 hp", "no dimensions at hand"),
    (
        "SAR classes 25NC and 26",
        "grate and surfaces not at hand; two of the powers called indicated look like drawbar",
    ),
    ("SZD FD20, power up to 3,100 hp", "indicated, rim or drawbar is not said"),
    ("B&A A-1 and the class before it on a climb", "grate and surfaces not at hand, speed not given"),
    ("Goss's line for the first Purdue boiler", "its grate and surfaces are not at hand"),
    ("PO 3566, 650 t at 74.5 mph", "no dimensions at hand"),
    (
        "1,000, 900 and 1,300 lb of steam a square foot of grate an hour",
        "used as limits, not results of an engine",
    ),
    ("national averages of coal per ton-mile", "all fuel of all railways over net tons: no train to compute"),
    ("Clark's English engines without grate or surface", "no boiler to compute"),
)


@lru_cache
def sections() -> tuple[Section, ...]:
    """Everything that is computed, once."""
    return tuple(make() for make in SECTIONS)


def comparisons() -> list[Comparison]:
    return [comparison for section in sections() for comparison in section.comparisons]


def promised(target: str) -> list[Comparison]:
    return [comparison for comparison in comparisons() if comparison.target == target]


def disagreements() -> list[Comparison]:
    """Promised figures that are missed."""
    return [comparison for comparison in comparisons() if comparison.target and not comparison.met]


def rendered() -> str:
    """The whole page."""
    return "\n".join([*_head(), *_summary(), *_trends(), *_body(), *_engines(), *_skipped(), ""])


def _head() -> Iterator[str]:
    yield "# Validation: computed against published"
    yield ""
    yield (
        "Made by `python -m tests.validation`; do not edit. Every figure is computed by one set of general "
        "constants (`engine_practice.FITTED_CONSTANTS` for the cylinders, `fuels` and `gas_passages` for the "
        "boiler). No engine has constants of its own, but for the front ends of the LMS engine and the two French "
        "ones, whose worth is assumed (see *Indicated power*). Nothing here was tuned row by row. Published "
        "figures and dimensions stand as data under `tests/published/engines`, each with its source and how it is "
        "known:"
    )
    yield ""
    yield (
        "*read*: the number was seen in the source (often at second hand); *from memory*: remembered, with "
        "more or less confidence; *derived*: arithmetic on read numbers; *assumed*: a figure nobody "
        "printed, taken by us. **in the fit** marks what the constants were fitted to: agreement there "
        "shows only that one set of constants serves them all. What was not in the fit is the test."
    )
    yield ""


def _summary() -> Iterator[str]:
    yield "## What was promised, and what is met"
    yield ""
    heads = ("promise", "met", "of these not in the fit", "largest error")
    rows = []
    for target, words in TARGETS.items():
        found = promised(target)
        fresh = [c for c in found if not c.fitted]
        worst = max(found, key=lambda c: abs(c.error))
        rows.append(
            (
                words,
                f"{sum(c.met for c in found)} of {len(found)}",
                f"{sum(c.met for c in fresh)} of {len(fresh)}" if fresh else "all were in the fit",
                f"{worst.error_text} ({worst.case})",
            )
        )
    yield from _table(heads, rows)
    yield ""
    yield _stated_speeds()
    yield ""
    missed = disagreements()
    yield (
        f"**Disagreements: {len(missed)} of the promised figures are missed.**"
        if missed
        else "None is missed."
    )
    yield ""
    for c in missed:
        computed, published = c.shown(c.computed), c.shown(c.published)
        yield f"* {c.case}: computed {computed}, published {published}, {c.error_text} ({c.status})"
    if missed:
        yield ""
    yield "![Computed over published power, engine by engine](images/validation_powers.svg)"
    yield ""


def _stated_speeds() -> str:
    """How the promise on power stands, read strictly."""
    found = promised(POWER)
    stated = [c for c in found if "mph" in c.case]
    best = [c for c in found if c not in stated]
    return (
        f"Of the published powers with a stated speed {sum(c.met for c in stated)} of {len(stated)} are "
        f"met ({sum(c.met for c in stated if not c.fitted)} of the {sum(not c.fitted for c in stated)} not in the "
        f"fit; two are of the same engine); of those without one, at the best speed, {sum(c.met for c in best)} of "
        f"{len(best)}." + _without_front_ends(found)
    )


def _without_front_ends(found: list[Comparison]) -> str:
    """How the promise would stand without the front ends that are assumed."""
    plain = {case: abs(power / published - 1.0) <= 0.1 for case, power, published in power.plain_powers()}
    met = sum(plain.get(c.case, c.met) for c in found)
    return (
        f" {len(plain)} of the {len(found)} lean on an assumed worth of a double stack that was read; with a plain "
        f"front end in its place {met} of {len(found)} would be met (see *Indicated power*)."
    )


def _trends() -> Iterator[str]:
    yield "## What the trade expects of any locomotive"
    yield ""
    rows = [(e.expected, "yes" if e.met else "**no**", e.found) for e in trends.expectations()]
    yield from _table(("expected", "shows", "found"), rows)
    yield ""


def _body() -> Iterator[str]:
    for section in sections():
        yield f"## {section.title}"
        yield ""
        for text in section.text:
            yield text
            yield ""
        if section.comparisons:
            yield from _comparisons(section.comparisons)
            yield ""
        for grid in section.grids:
            yield from _grid(grid)
            yield ""
        for text in section.after:
            yield text
            yield ""
        if section.plot:
            yield f"![{section.plot_says}](images/validation_{section.plot}.svg)"
            yield ""


def _comparisons(found: tuple[Comparison, ...]) -> Iterator[str]:
    heads = ("case", "computed", "published", "error", "source", "status", "in the fit", "remark")
    rows = [
        (
            c.case,
            c.shown(c.computed),
            c.shown(c.published),
            f"**{c.error_text}**" if c.target and not c.met else c.error_text,
            f"[{c.source}]",
            c.status,
            "yes" if c.fitted else "no",
            c.remark,
        )
        for c in found
    ]
    yield from _table(heads, rows)


def _grid(grid: Grid) -> Iterator[str]:
    if grid.caption:
        yield f"{grid.caption}:"
        yield ""
    yield from _table(grid.heads, grid.rows)


def _table(heads: tuple[str, ...], rows: object) -> Iterator[str]:
    yield f"| {' | '.join(heads)} |"
    yield f"|{'---|' * len(heads)}"
    for row in rows:  # type: ignore[attr-defined]
        yield f"| {' | '.join(row)} |"


def _engines() -> Iterator[str]:
    yield "## Engines, and what was assumed of them"
    yield ""
    yield (
        "Figures by how they are known; the assumed ones by name. Where no valve gear is given the usual "
        "one of the time is taken (`engine_practice`): all engines here but those that say otherwise. "
        "Clearance 9 %, connecting rod 7 cranks, coal of 13,500 Btu/lb where nothing is said."
    )
    yield ""
    rows = []
    for name in engine_names():
        made = engine(name)
        counts = ", ".join(f"{len(made.of_status(s))} {s}" for s in STATUS[:3] if made.of_status(s))
        assumed = ", ".join(
            dict.fromkeys(f.key.rsplit(".", 1)[-1].replace("_", " ") for f in made.of_status("assumed"))
        )
        sources = ", ".join(dict.fromkeys(f"[{f.source}]" for f in made.figures if f.source))
        rows.append((made.locomotive.name, counts, sources, assumed))
    yield from _table(("engine", "known", "sources", "assumed"), rows)
    yield ""


def _skipped() -> Iterator[str]:
    yield "## Published, but not computed"
    yield ""
    yield from _table(("published", "why not"), NOT_COMPUTED)
