"""The compiled run: motion, boiler and crew, step by step over distance."""
