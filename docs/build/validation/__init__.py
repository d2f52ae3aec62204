"""docs/validation.md: locosim computed against published tests, and the page made from it."""
