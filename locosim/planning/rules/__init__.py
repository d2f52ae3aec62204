"""Rules of the check, one file for each subject; each is a function from a run to its findings."""
