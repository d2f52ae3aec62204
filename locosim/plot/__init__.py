"""Results as pictures; the only package that imports matplotlib."""
