"""Steam supply of an engine: sustained evaporation, its limits, stored heat."""
