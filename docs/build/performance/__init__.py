"""docs/performance.md: computing times of this machine, and the page made from them."""
