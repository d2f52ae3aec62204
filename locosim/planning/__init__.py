"""Answers to the questions of an operations planner."""
