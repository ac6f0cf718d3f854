"""Bring a workshop's own files in: what was found, the column map, a check, the load, and the way back."""

from fleetlens_dashboard import column_maps, loading, show, uploads

show.head(
    "Bring in data",
    "Which files hold your jobs, which of their columns is which, and what would be refused? "
    "The filters of vehicles don't hold on this page.",
)
bench = uploads.bench()
files = uploads.chosen()

if files:
    plan = column_maps.plan(files, bench)
    loading.offer(plan, bench)
else:
    show.nothing(
        "Choose one or several files: CSV, JSON, Parquet, XLSX, XLS or ODS, also packed with gzip or zip, and column "
        "maps (TOML) that you have already. They stay on this machine. For bigger files use the command line: "
        "`fleetlens load FILE`, with `fleetlens map FILE` before it."
    )
loading.offer_undo(bench)
