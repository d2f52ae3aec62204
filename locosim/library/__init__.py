"""The library: the functions and results that `import locosim` gives."""
