"""From an excursion to the arrays of the kernel."""
