"""Files become checked rows in the store."""
