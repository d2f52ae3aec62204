"""Needs to expect of a sample, from those of a few: the searches for its own begin there, and take fewer runs.

Nothing but the time depends on them, but for a step of a need at most. A need is found with all inputs at their
medians, and once more for each input with that one changed. What each does to the logarithm of the need is added up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from locosim.engine.map.nearby import NearbyMaps
from locosim.engine.performance import compute_excursion_performance
from locosim.errors import LocosimError
from locosim.journey.needs import Need
from locosim.physics.types import Floats
from locosim.planning.trial_runs import Needs, find_needs
from locosim.side_by_side import answer_each
from locosim.studies.uncertain_inputs import SampledExcursions, SampledInput

LEAST_SAMPLES = 10  # for each input, from which on this saves more time than it takes
CHANGED = 0.84  # share of its distribution at which an input is changed: a standard deviation, if normal [1]


class NearbyNeeds:
    """Needs to expect of samples.

    Args:
        excursions: Excursions of the samples.
        inputs: What is drawn.
        maps: Maps of their engines; None where no map changes with the inputs.
    """

    def __init__(
        self, excursions: SampledExcursions, inputs: Sequence[SampledInput], maps: NearbyMaps | None
    ) -> None:
        self._excursions, self._maps = excursions, maps
        self._medians, changed = np.array([each.values(np.array([0.5, CHANGED])) for each in inputs]).T
        self._center = self._needs(self._medians, None)
        self._outcomes = {number: len(each.outcomes) for number, each in enumerate(inputs) if each.outcomes}
        asked = [
            (number, value)
            for number, figure in enumerate(changed.tolist())
            for value in (range(self._outcomes[number]) if number in self._outcomes else (figure,))
        ]
        found = answer_each([partial(self._change, number, float(value)) for number, value in asked])
        # Of each outcome, and for each unit of each figure.
        self._by_outcome = dict(zip(asked, found, strict=True))
        self._slopes = np.zeros((2, len(inputs)))
        for (number, value), change in zip(asked, found, strict=True):
            if number not in self._outcomes and value != self._medians[number]:
                self._slopes[:, number] = change / (value - self._medians[number])

    def expected(self, sample: Floats) -> Needs | None:
        """Needs to expect of a sample; None where there are none with all inputs at their medians.

        Args:
            sample: Figures of the inputs, or numbers of outcomes, shape (inputs,).
        """
        if self._center is None:
            return None
        change = self._slopes @ (sample - self._medians)
        for number in self._outcomes:
            change = change + self._by_outcome[number, int(sample[number])]
        return Needs(*(_changed(need, float(by)) for need, by in zip(self._center, change, strict=True)))

    def _change(self, number: int, value: float) -> Floats:
        """Change of the logarithms of both needs with one input changed, shape (2,)."""
        sample = self._medians.copy()
        sample[number] = value
        found = None if value == self._medians[number] else self._needs(sample, self._center)
        if self._center is None or found is None:
            return np.zeros(2)
        return np.array([_log_ratio(*pair) for pair in zip(found, self._center, strict=True)])

    def _needs(self, sample: Floats, near: Needs | None) -> Needs | None:
        """Needs of a sample; None where they cannot be computed."""
        try:
            excursion = self._excursions.excursion(sample)
            return find_needs(excursion, compute_excursion_performance(excursion, maps=self._maps), near=near)
        except LocosimError:
            return None


def _log_ratio(need: Need, other: Need) -> float:
    """Logarithm of one need over another, beyond what their capacities explain; 0 where there is no need."""
    shares = [
        each.share * each.search.capacity if each.share is not None and each.search is not None else 0.0
        for each in (need, other)
    ]
    return math.log(shares[0] / shares[1]) if min(shares) > 0.0 else 0.0


def _changed(need: Need, by: float) -> Need:
    """A need with a change of its logarithm."""
    return need if need.share is None else replace(need, share=need.share * math.exp(by))
