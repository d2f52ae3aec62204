"""The line by itself: its grades and curves examined, and lines made, smoothed, reversed, joined and cut."""
