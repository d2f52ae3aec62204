"""What every answer must say beside its figures."""

CAUTION = (
    "These are computed figures with the margins shown, for planning. They do not pass an engine, a train or a "
    "crew for service: the boiler's certificate, the railway's own rules and the licensed people in charge decide, "
    "and brakes are proved by test."
)

METHODS = {
    "handbook": "handbook: published averages for engines known by their main dimensions",
    "cycle": "cycle: the cylinders computed from their dimensions and valve setting, the boiler by its heat balance",
}
