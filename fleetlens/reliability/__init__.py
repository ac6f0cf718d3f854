"""Statistics on arrays: survival, Weibull, recurrence, rates, renewal."""
