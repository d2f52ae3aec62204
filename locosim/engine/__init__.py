"""What the engine can do: performance map, limits, speed curve and cutoff table."""
