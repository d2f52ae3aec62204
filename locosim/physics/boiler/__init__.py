"""Fuel, fire, draft, heat transfer and water of the boiler."""
