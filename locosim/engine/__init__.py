"""What an engine can do: performance map, steam supply, speed curve, cutoff table, comparison."""
