"""Steam locomotive performance: engine, boiler, train and line, and whether an excursion will go."""

__version__ = "0.1.0"
