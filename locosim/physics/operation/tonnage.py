"""Tonnage ratings: the load assigned to a locomotive, by the rules of operating departments."""

from __future__ import annotations

from locosim.constants import GRAVITY, POUND_PER_SHORT_TON

NET_LOAD_SHARE = 0.50  # of the gross trailing load, planning value of [Army603]


def army_drawbar_pull(*, tractive_effort: float, locomotive_mass: float) -> float:
    """Drawbar pull at low speed on the level, by a planning rule of the US Army.

    Args:
        tractive_effort: Continuous tractive effort; for steam the starting effort [N].
        locomotive_mass: Mass of locomotive and tender [kg].

    Returns:
        Drawbar pull [N].

    References:
        [Army603] example of gross trailing load: 20 lb less for each short ton of the locomotive.
    """
    return tractive_effort - 20 * POUND_PER_SHORT_TON * locomotive_mass


def gross_trailing_load(
    *,
    drawbar_pull: float,
    weather_factor: float,
    rolling_resistance: float,
    grade_resistance: float,
    curve_resistance: float,
) -> float:
    """Gross trailing load: the mass that a drawbar pull hauls against the resistances of the line.

    Args:
        drawbar_pull: Drawbar pull [N].
        weather_factor: Factor on the drawbar pull in cold or wet weather [1].
        rolling_resistance: Running resistance per mass [N/kg].
        grade_resistance: Grade resistance per mass [N/kg].
        curve_resistance: Curve resistance per mass [N/kg].

    Returns:
        Mass behind the tender; the source rounds up to whole short tons [kg].

    References:
        [Army603] example of gross trailing load.
    """
    return drawbar_pull * weather_factor / (rolling_resistance + grade_resistance + curve_resistance)


def net_train_load(*, gross_load: float) -> float:
    """Net load: the mass of the freight in a gross trailing load.

    Args:
        gross_load: Gross trailing load [kg].

    Returns:
        Net load; the source rounds up to whole short tons [kg].

    References:
        [Army603], first division: one half.
    """
    return NET_LOAD_SHARE * gross_load


def ruling_grade(*, effort: float, mass: float, rolling_resistance: float) -> float:
    """Ruling grade of a train, by the rule of 20 lb per short ton for each per cent.

    Args:
        effort: Tractive effort, or drawbar pull [N].
        mass: Mass of locomotive and train, or with drawbar pull that of the train [kg].
        rolling_resistance: Running resistance per mass; 3 lb per short ton in the source [N/kg].

    Returns:
        Grade, rise over run [1].

    References:
        [TI850] equation 3-3.
    """
    return (effort / mass - rolling_resistance) / GRAVITY


def adhesion_required_on_grade(
    *, mass: float, grade: float, rolling_resistance: float, mass_on_drivers: float
) -> float:
    """Coefficient of adhesion that a train requires on a grade.

    Args:
        mass: Mass of train, tender and locomotive [kg].
        grade: Rise over run [1].
        rolling_resistance: Running resistance per mass [N/kg].
        mass_on_drivers: Mass on the driving wheels [kg].

    Returns:
        Coefficient of adhesion: effort over the weight on drivers [1].

    References:
        [Randolph1910]: load x (20 G + r) / (20 W) per cent.
    """
    return mass * (grade + rolling_resistance / GRAVITY) / mass_on_drivers


def car_factor(
    *,
    light_mass: float,
    light_resistance: float,
    loaded_mass: float,
    loaded_resistance: float,
    grade_resistance: float,
) -> float:
    """Car factor of adjusted tonnage: the mass to add for each car, so that light and loaded cars count alike.

    Running resistance of a car is taken as a constant and a part in proportion to its mass, both from two cars.

    Args:
        light_mass: Mass of an empty car [kg].
        light_resistance: Running resistance of that car [N].
        loaded_mass: Mass of a loaded car [kg].
        loaded_resistance: Running resistance of that car [N].
        grade_resistance: Grade resistance per mass [N/kg].

    Returns:
        Mass to add for each car [kg].

    References:
        [AREA1970], from memory: constant over the resistance in proportion to mass.
    """
    per_mass = resistance_per_added_mass(
        light_mass=light_mass,
        light_resistance=light_resistance,
        loaded_mass=loaded_mass,
        loaded_resistance=loaded_resistance,
    )
    return (light_resistance - per_mass * light_mass) / (per_mass + grade_resistance)


def resistance_per_added_mass(
    *, light_mass: float, light_resistance: float, loaded_mass: float, loaded_resistance: float
) -> float:
    """Running resistance that loading adds to a car, per mass added.

    Args:
        light_mass: Mass of an empty car [kg].
        light_resistance: Running resistance of that car [N].
        loaded_mass: Mass of a loaded car [kg].
        loaded_resistance: Running resistance of that car [N].

    Returns:
        Resistance per mass [N/kg].

    References:
        Definition; adjusted tonnage as in `car_factor`.
    """
    return (loaded_resistance - light_resistance) / (loaded_mass - light_mass)


def adjusted_tonnage(*, mass: float, cars: float, car_factor: float) -> float:
    """Adjusted tonnage of a train: its mass, and the car factor for each car.

    Args:
        mass: Mass of the cars [kg].
        cars: Number of cars [1].
        car_factor: Mass to add for each car [kg].

    Returns:
        Adjusted mass, to be compared with the adjusted rating of the engine [kg].

    References:
        [CanadianNationalRules] rule 1.
    """
    return mass + car_factor * cars
