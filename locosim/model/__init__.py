"""What a thing is: frozen descriptions of engine, train, line and excursion."""

from locosim.model.boiler import Auxiliaries, Boiler, FeedDevice, Superheater
from locosim.model.cylinders import Cylinders, EngineUnit, SteamWays, ValveGear
from locosim.model.excursion import Assistance, Crew, Criteria, Diesel, Excursion, Fuel, Weather
from locosim.model.locomotive import Locomotive, Tender
from locosim.model.route import Curve, ProfilePoint, RailStretch, Route, SpeedLimit, Station, Tunnel
from locosim.model.timetable import Call
from locosim.model.train import OwnResistance, Train, Vehicle

__all__ = [
    "Assistance",
    "Auxiliaries",
    "Boiler",
    "Call",
    "Crew",
    "Criteria",
    "Curve",
    "Cylinders",
    "Diesel",
    "EngineUnit",
    "Excursion",
    "FeedDevice",
    "Fuel",
    "Locomotive",
    "OwnResistance",
    "ProfilePoint",
    "RailStretch",
    "Route",
    "SpeedLimit",
    "Station",
    "SteamWays",
    "Superheater",
    "Tender",
    "Train",
    "Tunnel",
    "ValveGear",
    "Vehicle",
    "Weather",
]
