"""Results as pictures; the only room that imports matplotlib."""
