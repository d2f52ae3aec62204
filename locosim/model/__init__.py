"""Frozen descriptions of engine, train, line and excursion."""

from locosim.model.assumptions import Assumptions
from locosim.model.boiler import Auxiliaries, Boiler, FeedDevice, Fuel
from locosim.model.criteria import Criteria
from locosim.model.cylinders import Cylinders, EngineUnit, PoppetGear, SteamPassages, ValveGear
from locosim.model.day import CrewHours, Day, Layover, Leg
from locosim.model.engine_test_sheet import EngineTestRow, EngineTestSheet
from locosim.model.excursion import Crew, Excursion, Weather
from locosim.model.helper_engine import Diesel, Helper
from locosim.model.locomotive import Locomotive, Tender
from locosim.model.route import Route
from locosim.model.timetable import Stop
from locosim.model.track import Curve, ProfilePoint, RailConditionZone, SpeedLimit, Station, Tunnel
from locosim.model.train import CustomResistance, Train, Vehicle
from locosim.model.tubes import Flues, Superheater, Tubes
from locosim.model.uncertainty import Correlation, Outcome, UncertainInput, Uncertainty

__all__ = [
    "Assumptions",
    "Auxiliaries",
    "Boiler",
    "Correlation",
    "Crew",
    "CrewHours",
    "Criteria",
    "Curve",
    "CustomResistance",
    "Cylinders",
    "Day",
    "Diesel",
    "EngineTestRow",
    "EngineTestSheet",
    "EngineUnit",
    "Excursion",
    "FeedDevice",
    "Flues",
    "Fuel",
    "Helper",
    "Layover",
    "Leg",
    "Locomotive",
    "Outcome",
    "PoppetGear",
    "ProfilePoint",
    "RailConditionZone",
    "Route",
    "SpeedLimit",
    "Station",
    "SteamPassages",
    "Stop",
    "Superheater",
    "Tender",
    "Train",
    "Tubes",
    "Tunnel",
    "UncertainInput",
    "Uncertainty",
    "ValveGear",
    "Vehicle",
    "Weather",
]
