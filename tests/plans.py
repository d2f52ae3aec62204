"""Random runs over random lines, the same for the same seed."""

from __future__ import annotations

import random
from dataclasses import replace

import trials

from locosim.model import Crew, Excursion

HABITS = ("hold_speed_limit", "steady_steam", "save_steam_before_climbs", "coast_to_stops")
GRADES = (0.0, 0.0, 0.004, 0.008, 0.012, -0.006, -0.012)


def plan(seed: int) -> Excursion:
    """A run over a random line with one to three sections, on which no lateness is allowed."""
    draw = random.Random(seed)
    pieces = [(draw.uniform(1500, 6000), draw.choice(GRADES)) for _ in range(draw.randint(3, 7))]
    length = sum(piece for piece, _ in pieces)
    stops = sorted(draw.uniform(0.1, 0.9) * length for _ in range(draw.randint(0, 2)))
    crew = Crew(habit=draw.choice(HABITS), max_speed=draw.uniform(12, 24))
    return trials.excursion(
        trials.line(pieces, stops=stops, speed_limit=draw.uniform(13, 24)),
        made_of=trials.train(trials.coaches(draw.randint(3, 8))),
        crew=crew,
        criteria=replace(trials.WIDE, max_lateness=0.0),
    )
