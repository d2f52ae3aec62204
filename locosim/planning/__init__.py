"""The check of a proposed excursion: rules, findings, contingencies and the latest departure."""
