"""Cylinders and valve gear of a locomotive, laid out for the cycle."""
