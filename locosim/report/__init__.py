"""Results as text, JSON and CSV."""
