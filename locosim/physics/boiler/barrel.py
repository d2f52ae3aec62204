"""Dimensions of the tubes and flues: heating surfaces, gas areas, hydraulic diameters, and how the gas divides.

Where count and diameter of tubes and flues are known, all of these follow from them. Where only heating surfaces are
known, the gas area and the surface of the flues follow by rule.
"""

from __future__ import annotations

import math

from locosim.frozen import frozen

# Rules, where only surfaces are known.
# Free gas area through tubes and flues over their evaporative surface: 1 in 400, British practice of the 1930s and
# later, from memory. Long boilers with 2.25 in tubes have about 1 in 400, short ones with 2 in tubes up to 1 in 290.
GAS_AREA_TO_TUBE_SURFACE = 1.0 / 400.0
# Evaporative surface of the flues over the surface of the superheater in them; common practice, no source. The two
# Belgian superheaters of [DinglerSuperheater1915] have 1.01 (large flues) and 1.67 (elements in every tube).
FLUE_TO_SUPERHEATER_SURFACE = 1.2
_MAX_FLUE_SHARE = 0.9  # some of the surface is always small tubes
TUBE_DIAMETER = 0.05  # [m] inside, where none is given; the result depends on its power -0.2 only

# Heat to the elements over that to a smooth surface at the same coefficient, where the dimensions are known. Fitted
# with the unburned line of `fuels` to steam temperatures, see there; standard error 0.05.
ELEMENT_FACTOR = 0.93
# The same where only surfaces are known, over `ELEMENT_FACTOR`. Not fitted to published figures: with these two, the
# rules for gas area, flue surface and division of the gas give the steam temperatures of the dimensions of seven
# boilers from memory, with superheaters of 0.14 to 0.50 of the tube surface, at 30 to 120 lb/ft2 h, within 8 K rms.
SURFACE_FACTOR = 0.91
SUPERHEATER_REFERENCE_SHARE = 0.25
SUPERHEATER_SHARE_EXPONENT = -0.23

_BLASIUS_FLOW_EXPONENT = 1.75  # pressure drop over flow in smooth tubes, Blasius


@frozen
class TubeBank:
    """Equal tubes side by side.

    Attributes:
        count: Number of tubes.
        outside_diameter: Outside diameter [m].
        inside_diameter: Inside diameter [m].
    """

    count: int
    outside_diameter: float
    inside_diameter: float


@frozen
class Elements:
    """Superheater element pipes in a flue.

    Attributes:
        pipes: Pipes side by side in one flue.
        diameter: Outside diameter of a pipe [m].
        length: Length of flue that contains them [m].
    """

    pipes: int
    diameter: float
    length: float


@frozen
class Passage:
    """Equal gas passages side by side.

    Attributes:
        surface: Evaporative surface [m2].
        area: Free area of all of them [m2].
        diameter: Hydraulic diameter: four free areas over the wetted perimeter [m].
        length: Length [m].
    """

    surface: float
    area: float
    diameter: float
    length: float

    @property
    def resistance(self) -> float:
        """Friction at unit flow, up to a constant that is the same for all passages."""
        friction = self.area**_BLASIUS_FLOW_EXPONENT * self.diameter ** (3.0 - _BLASIUS_FLOW_EXPONENT)
        return float(self.length / friction)


@frozen
class Barrel:
    """Passages of the gas between the tube sheets.

    Attributes:
        tubes: Small tubes; None if there are none.
        flues: Flues where they contain the superheater elements; None if there are none.
        bare_flues: Flues between the firebox tube sheet and the elements; None if they are not told apart.
        element_surface: Surface of the superheater elements in the flues [m2].
        element_factor: Heat to the elements over that to a smooth surface of the same area [1].
        flue_share: Share of the gas that flows through the flues [1].
    """

    tubes: Passage | None
    flues: Passage | None
    bare_flues: Passage | None
    element_surface: float
    element_factor: float
    flue_share: float

    @property
    def free_gas_area(self) -> float:
        """Free area for the gas through tubes and flues, these where it is least [m2]."""
        flues = self.flues or self.bare_flues
        return sum(passage.area for passage in (self.tubes, flues) if passage is not None)

    @property
    def all_gas(self) -> Passage:
        """Passages of one kind with the pressure drop of the barrel when all gas flows through them."""
        if self.tubes is not None:
            one, share = self.tubes, 1.0 - self.flue_share
        else:
            flues = self.flues or self.bare_flues
            assert flues is not None  # a barrel has at least one passage
            one, share = flues, self.flue_share
        return Passage(surface=one.surface, area=one.area / share, diameter=one.diameter, length=one.length)


def barrel_by_surfaces(
    *, tube_surface: float, superheater_surface: float, tube_length: float | None = None
) -> Barrel:
    """Tubes and flues of which only the heating surfaces are known.

    Free gas area and flue surface follow by rule. The gas area divides between tubes and flues in proportion to their
    wetted surfaces: both then have the same flow resistance.

    Args:
        tube_surface: Evaporative surface of tubes and flues [m2].
        superheater_surface: Surface of the superheater; 0 for saturated steam [m2].
        tube_length: Length between the tube sheets [m]; None for 100 diameters, which the usual gas area implies.

    Returns:
        The passages.
    """
    length = TUBE_DIAMETER / (4.0 * GAS_AREA_TO_TUBE_SURFACE) if tube_length is None else tube_length
    area = tube_surface * GAS_AREA_TO_TUBE_SURFACE
    flues = min(FLUE_TO_SUPERHEATER_SURFACE * superheater_surface, _MAX_FLUE_SHARE * tube_surface)
    share = (flues + superheater_surface) / (tube_surface + superheater_surface)

    def passage(surface: float, part: float) -> Passage:
        return Passage(surface=surface, area=part * area, diameter=TUBE_DIAMETER, length=length)

    return Barrel(
        tubes=passage(tube_surface - flues, 1.0 - share),
        flues=passage(flues, share) if share > 0.0 else None,
        bare_flues=None,
        element_surface=superheater_surface,
        element_factor=surface_element_factor(share=superheater_surface / tube_surface),
        flue_share=share,
    )


def surface_element_factor(*, share: float) -> float:
    """Heat to the elements over that to a smooth surface of the same area, where only surfaces are known.

    It covers the part of the flue that the elements do not reach. It falls with the size of the superheater: more and
    smaller elements leave narrower passages, which less gas flows through.

    Args:
        share: Superheater surface over the evaporative surface of tubes and flues; 0 for saturated steam [1].

    Returns:
        The factor; 0 for saturated steam [1].
    """
    if share == 0.0:
        return 0.0
    return float(
        ELEMENT_FACTOR * SURFACE_FACTOR * (share / SUPERHEATER_REFERENCE_SHARE) ** SUPERHEATER_SHARE_EXPONENT
    )


def barrel_by_dimensions(
    *, length: float, tubes: TubeBank | None, flues: TubeBank | None, elements: Elements | None
) -> Barrel:
    """Tubes and flues of which the dimensions are known.

    Surfaces are outside surfaces, as American practice gives them. The gas divides so that friction is the same in
    tubes and flues; the losses at their ends and the difference of temperature are neglected.

    Args:
        length: Length between the tube sheets [m].
        tubes: Small tubes; None if there are none.
        flues: Flues; None if there are none. At least one of the two is given.
        elements: Superheater elements in the flues; None for saturated steam.

    Returns:
        The passages.
    """
    small = None if tubes is None else _open_passage(tubes, length)
    filled, bare = (None, None) if flues is None else _flue_passages(flues, elements, length)
    return Barrel(
        tubes=small,
        flues=filled,
        bare_flues=bare,
        element_surface=0.0 if flues is None or elements is None else _element_surface(flues, elements),
        element_factor=0.0 if elements is None else ELEMENT_FACTOR,
        flue_share=_flue_share(small, [part for part in (filled, bare) if part is not None]),
    )


def outside_surface(*, bank: TubeBank, length: float) -> float:
    """Outside surface of tubes or flues [m2] over a length [m]."""
    return bank.count * math.pi * bank.outside_diameter * length


def _element_surface(flues: TubeBank, elements: Elements) -> float:
    return flues.count * elements.pipes * math.pi * elements.diameter * elements.length


def _open_passage(bank: TubeBank, length: float) -> Passage:
    """Tubes or flues without anything in them."""
    return Passage(
        surface=outside_surface(bank=bank, length=length),
        area=bank.count * 0.25 * math.pi * bank.inside_diameter**2,
        diameter=bank.inside_diameter,
        length=length,
    )


def _flue_passages(
    flues: TubeBank, elements: Elements | None, length: float
) -> tuple[Passage | None, Passage | None]:
    """Flues with the elements in them, and flues ahead of the elements."""
    if elements is None:
        return None, _open_passage(flues, length)
    area = 0.25 * math.pi * (flues.inside_diameter**2 - elements.pipes * elements.diameter**2)
    perimeter = math.pi * (flues.inside_diameter + elements.pipes * elements.diameter)
    filled = Passage(
        surface=outside_surface(bank=flues, length=elements.length),
        area=flues.count * area,
        diameter=4.0 * area / perimeter,
        length=elements.length,
    )
    rest = length - elements.length
    return filled, _open_passage(flues, rest) if rest > 0.0 else None


def _flue_share(tubes: Passage | None, flues: list[Passage]) -> float:
    """Share of the gas through the flues at equal friction."""
    if not flues:
        return 0.0
    if tubes is None:
        return 1.0
    conductance = -1.0 / _BLASIUS_FLOW_EXPONENT
    flow = sum(part.resistance for part in flues) ** conductance
    return float(flow / (flow + tubes.resistance**conductance))
