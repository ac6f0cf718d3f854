"""Numbers of jobs that stand in the store for another job, as after a change of system: refused, never replaced.

A later row of the same number replaces the stored one: that is how corrections come. But where both the vehicle and
the day are others it is another job, and where the files come from another source either of the two is enough.
"""

import duckdb
import polars as pl

from fleetlens.store import merge, queries
from fleetlens.vocabulary.tables import Table

__all__ = ["refuse_reused"]

_FAR = 60  # days; a day written wrongly and put right later lies nearer (common practice, no source)
_RULE = "reused_number"


def refuse_reused(
    connection: duckdb.DuckDBPyConnection, table: Table, staged: str, source: str | None
) -> list[pl.DataFrame]:
    """Take such jobs, and what this load tells of them, out of the table `staged`; they are broken rules.

    `source`: where the files of the load come from, if it says so. Jobs are judged before what hangs on them.
    """
    if table.name == "jobs":
        found = queries.inside(connection, "intake/reused_numbers", source=source, days=_FAR)
        merge.append(connection, "reused_jobs", found.select("job_id").unique())
        sentence = (
            "job '{}' stands in the store for vehicle {}, opened on {}, so this is another job: give the numbers of "
            "this source a prefix (job_prefix in its map), or correct the number"
        )
        reason = pl.format(sentence, "job_id", "vehicle_id", "opened_on")
    elif any(reference.table == "jobs" for reference in table.references):
        rows = connection.table(staged).filter("not known").join(connection.table("reused_jobs"), "job_id")
        found = rows.select("place", "job_id").pl().sort("place")
        reason = pl.format("job '{}' was refused, because its number stands for another job", "job_id")
    else:
        return []
    if found.is_empty():
        return []
    connection.register("refused_places", found.select("place").to_arrow())
    merge.remove(connection, staged, "refused_places", "place")
    connection.unregister("refused_places")
    return [found.select("place", column=pl.lit("job_id"), value="job_id", rule=pl.lit(_RULE), reason=reason)]
