"""Rules of train operation: braking, momentum, tonnage, speed on curves."""
