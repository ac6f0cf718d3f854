"""fleetlens: the view across workshop jobs."""
