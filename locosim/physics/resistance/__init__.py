"""Train resistance: running, starting, grades and curves."""
