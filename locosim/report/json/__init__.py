"""Results as JSON."""
