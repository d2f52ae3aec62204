"""Picture of the fire on two made-up lines: ten miles down and two up, and a climb above the fireman's rate."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from locosim.constants import ATMOSPHERE, HOUR, MILE
from locosim.engine.performance import compute_excursion_performance
from locosim.journey.result import Journey
from locosim.journey.run import run_journey
from locosim.model import Assumptions, Crew, Excursion, ProfilePoint, Route, Station, Stop
from locosim.plot.figure import COLORS, STYLES, new_figure
from locosim.scenario.reader import load_excursion

SPRING_SPECIAL = Path(__file__).resolve().parents[2] / "scenarios" / "excursions" / "spring_special.toml"
INCH = 0.0254
FOOT_OF_LINE = 1000.0  # length of line behind the first station, on which the train stands [m]
TEN_DOWN_TWO_UP = ((10 * MILE, -0.008), (2 * MILE, 0.016), (3000.0, 0.0))
LONG_CLIMB = ((4000.0, 0.0), (16000.0, 0.0125), (4000.0, 0.0))
DEEP, THIN = 10 * INCH, 6 * INCH  # ends of the believable range of a full bed
SLOW_HAND = 660.0 / HOUR  # what the fireman of the long climb can fire [kg/s]
OVERDRAWN = 1.5  # steam used on the long climb, over what his firing sustains [1]


def draw_fire() -> Figure:
    """Pressure and fuel on the grate: left by place under deep and thin beds, right by time."""
    figure = new_figure(9.2, 6.0)
    (left, right), (left_bed, right_bed) = figure.subplots(2, 2, sharex="col")
    _under_beds(left, left_bed)
    _above_the_firing_rate(right, right_bed)
    left.set_ylabel("boiler pressure [bar, gauge]")
    left_bed.set_ylabel("fuel on the grate [t]")
    for axes in (left, right):
        axes.set_ylim(9.5, 13.5)
    for axes in (left_bed, right_bed):
        axes.set_ylim(0.0, 0.3)
    return figure


def _under_beds(pressure: Axes, bed: Axes) -> None:
    """Ten miles down and two up under a deep and a thin bed, by a crew that knows the road and by a stranger."""
    base = _excursion(TEN_DOWN_TWO_UP)
    deep = Assumptions(full_bed_depth=DEEP, idle_bed_share=0.7)
    thin = Assumptions(full_bed_depth=THIN, idle_bed_share=0.3)
    known, stranger = Crew(), Crew(horizon=0.0)
    cases = (
        ("10 in bed", deep, known),
        ("6 in bed", thin, known),
        ("10 in bed, a stranger to the road", deep, stranger),
        ("6 in bed, a stranger to the road", thin, stranger),
    )
    for k, (name, assumptions, crew) in enumerate(cases):
        run = _run(replace(base, assumptions=assumptions, crew=crew))
        _lines(pressure, bed, (run.chainage - FOOT_OF_LINE) / MILE, run, name, k)
    for axes in (pressure, bed):
        axes.axvspan(10.0, 12.0, color="#eeeeee")
    pressure.set_title("ten miles down 0.8 %, two up 1.6 %", fontsize=9.5)
    bed.set_xlabel("miles from the start; climb shaded")
    pressure.legend(fontsize=7.5, loc="lower left")


def _above_the_firing_rate(pressure: Axes, bed: Axes) -> None:
    """A long climb on more steam than the fireman's rate sustains."""
    base = _excursion(LONG_CLIMB)
    crews = (("knows 30 minutes of road", 1800.0), ("5 minutes", 300.0), ("a stranger to the road", 0.0))
    for k, (name, horizon) in enumerate(crews):
        crew = Crew(max_firing=SLOW_HAND, steam_allowance=OVERDRAWN, horizon=horizon)
        run = _run(replace(base, crew=crew))
        minutes = (run.time - run.time[0]) / 60.0
        _lines(pressure, bed, minutes, run, name, k)
        if k == 0:
            inside = (run.chainage > FOOT_OF_LINE + 4000.0) & (run.chainage < FOOT_OF_LINE + 20000.0)
            for axes in (pressure, bed):
                axes.axvspan(minutes[inside][0], minutes[inside][-1], color="#eeeeee")
    pressure.set_title("ten miles up 1.25 %, fired by hand at 660 kg/h at most", fontsize=9.5)
    bed.set_xlabel("minutes from the start; the climb of the first crew shaded")
    pressure.legend(fontsize=7.5, loc="lower left")


def _lines(pressure: Axes, bed: Axes, along: object, run: Journey, name: str, number: int) -> None:
    look = {"color": COLORS[number], "linestyle": STYLES[number], "linewidth": 1.4}
    pressure.plot(along, (run.pressure - ATMOSPHERE) / 1e5, label=name, **look)
    bed.plot(along, run.grate_fuel / 1e3, **look)


def _excursion(pieces: tuple[tuple[float, float], ...]) -> Excursion:
    """Campion, fired by hand, with the train of the spring special on a line of given lengths [m] and grades."""
    points, place = [ProfilePoint(chainage=0.0, grade=pieces[0][1])], FOOT_OF_LINE
    for length, grade in pieces:
        points.append(ProfilePoint(chainage=place, grade=grade))
        place += length
    ends = (Station(name="start", chainage=FOOT_OF_LINE), Station(name="end", chainage=place))
    line = Route(
        name="made-up line",
        profile=(*points, ProfilePoint(chainage=place)),
        stations=ends,
        speed_limit=20.0,
    )
    asked = load_excursion(SPRING_SPECIAL)
    return replace(
        asked,
        route=line,
        stops=tuple(Stop(station=end.name) for end in ends),
        crew=Crew(),
    )


def _run(excursion: Excursion) -> Journey:
    return run_journey(excursion, compute_excursion_performance(excursion), transient_boiler=True)
