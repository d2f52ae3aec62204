"""The caution and the names of the methods, which every answer carries."""

CAUTION = (
    "Computed figures for planning, with the margins shown. They do not approve an engine, a train or a crew for "
    "service: the boiler certificate, the railway's rules and the licensed people in charge decide, and brakes are "
    "proved by test."
)

METHODS = {
    "handbook": "handbook: published averages for engines known by their main dimensions",
    "cycle": "cycle: cylinders computed from their dimensions and valve gear, boiler by its heat balance",
}
