"""Results as text, JSON, CSV and HTML, one folder for each medium."""
