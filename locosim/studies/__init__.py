"""Studies: many checks for one question."""
