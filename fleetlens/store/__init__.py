"""The DuckDB store: snapshots, readers, queries by name."""
