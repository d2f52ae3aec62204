"""The performance map: made by the cycle or by the handbook, stored and interpolated."""
