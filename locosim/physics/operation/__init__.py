"""Train operation: braking, momentum, tonnage ratings, speed on curves."""
