"""Steam supply of a locomotive: sustained evaporation, its limits, stored heat."""
