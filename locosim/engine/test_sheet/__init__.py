"""The test sheet of an engine: what locosim computes beside it, and keys of the engine set from it."""
