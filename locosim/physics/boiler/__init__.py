"""The boiler: fuel, fire, draft, heat transfer, feed and water level."""
