"""The laws: pure functions of floats and arrays in SI units."""
