"""The questions asked of the store, each with a typed result."""
