"""The invented fleet: a generator with known truth."""
