"""What a thing is: frozen descriptions of engine, train, line and excursion."""

from locosim.model.assumptions import Assumptions
from locosim.model.boiler import Auxiliaries, Boiler, FeedDevice, Superheater
from locosim.model.cylinders import Cylinders, EngineUnit, SteamPassages, ValveGear
from locosim.model.excursion import Crew, Criteria, Diesel, Excursion, Fuel, Helper, Weather
from locosim.model.locomotive import Locomotive, Tender
from locosim.model.route import Curve, ProfilePoint, RailConditionZone, Route, SpeedLimit, Station, Tunnel
from locosim.model.timetable import Stop
from locosim.model.train import CustomResistance, Train, Vehicle

__all__ = [
    "Assumptions",
    "Auxiliaries",
    "Boiler",
    "Crew",
    "Criteria",
    "Curve",
    "CustomResistance",
    "Cylinders",
    "Diesel",
    "EngineUnit",
    "Excursion",
    "FeedDevice",
    "Fuel",
    "Helper",
    "Locomotive",
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
    "Tunnel",
    "ValveGear",
    "Vehicle",
    "Weather",
]
