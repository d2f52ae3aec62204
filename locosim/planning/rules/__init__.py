"""The rules of a check: each takes a run and returns findings."""
