"""What workshops call our columns, in several languages, from our list."""

from functools import cache

from fleetlens.vocabulary import lists

__all__ = ["called"]


@cache
def called() -> dict[str, tuple[str, ...]]:
    """For each name (plain small letters, one blank between words) our columns that it may mean."""
    found: dict[str, list[str]] = {}
    for row in lists.rows("column_names"):
        ours = row["column"]
        for name in (ours.replace("_", " "), *row["names"].split("|")):
            columns = found.setdefault(name, [])
            if ours not in columns:
                columns.append(ours)
    return {name: tuple(columns) for name, columns in found.items()}
