"""Physical constants and units of measure, in SI."""

from __future__ import annotations

GRAVITY = 9.80665  # standard gravity [m/s²], exact by definition
ATMOSPHERE = 101_325.0  # standard atmosphere [Pa], exact by definition

# Exact by definition of the international yard and pound (1959) and of standard gravity.
INCH = 0.0254  # [m]
FOOT = 0.3048  # [m]
MILE = 1609.344  # [m]
POUND = 0.45359237  # [kg]
POUND_FORCE = POUND * GRAVITY  # [N]
PSI = POUND_FORCE / INCH**2  # [Pa]
SHORT_TON = 2000.0 * POUND  # [kg]
LONG_TON = 2240.0 * POUND  # [kg]
HOUR = 3600.0  # [s]
MPH = MILE / HOUR  # [m/s]
KMH = 1000.0 / HOUR  # [m/s]
HORSEPOWER = 550.0 * FOOT * POUND_FORCE  # [W], mechanical
METRIC_HORSEPOWER = 75.0 * GRAVITY  # [W]
BTU = 1055.05585262  # [J], International Table
BTU_PER_POUND = BTU / POUND  # [J/kg]
POUND_PER_SHORT_TON = POUND_FORCE / SHORT_TON  # [N/kg]
POUND_PER_SQUARE_FOOT_HOUR = POUND / (FOOT**2 * HOUR)  # [kg/(m² s)]
US_GALLON = 231.0 * INCH**3  # [m³]
IMPERIAL_GALLON = 4.54609e-3  # [m³]
ZERO_CELSIUS = 273.15  # [K]

WATER_DENSITY = 1000.0  # [kg/m³], cold water in a tender; within 0.5 % from 0 to 30 degC
STEEL_SPECIFIC_HEAT = 490.0  # [J/(kg K)], boiler steel near 200 degC; from memory
