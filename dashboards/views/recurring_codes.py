"""Which fault codes keep coming back, and the jobs behind each."""

from fleetlens.findings.codes import code_rows, recurring_codes
from fleetlens.output import charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head(
    "Recurring codes",
    "Which fault codes keep coming back, on how many vehicles, and how often for the distance driven? "
    "A code says what a control unit noticed; it is not a diagnosis.",
)
component = choices.component_or_all()
filters = choices.filters(component)
show.filtered(filters)

finding = answer(recurring_codes, filters)

show.chart(lambda codes, _: charts.rates(codes), finding, height="content")
rate = ["rate_per_100k_km", "rate_low", "rate_high"]
change = ["change", "change_low", "change_high", "change_q"]
ranked = tables.first(finding, ["code", "events", "episodes", "vehicles", "km", *rate, *change])
tables.table(tables.last(ranked, ["description"]), "codes", choose="code")
show.downloads(finding)
show.notes("What changed", finding)
show.section("The jobs behind a code")
code = choices.code(finding.rows["code"].to_list())
if code is not None:
    jobs = answer(code_rows, code, filters)
    tables.table(jobs, "jobs", open_in={"vehicle_id": "vehicle_history"})
    show.downloads(jobs, "jobs")
show.evidence(finding)
