"""How well the record was kept: loads, refused rows, and odometer readings set aside."""

from fleetlens.findings.fleet import loads, quality, refused, set_aside
from fleetlens.findings.refusals import broken_rules
from fleetlens.output import charts
from fleetlens_dashboard import show, tables
from fleetlens_dashboard.record import answer

show.head(
    "Data check",
    "What was loaded, what was refused, and which odometer readings contradict the others? "
    "The filters of vehicles don't hold on this page.",
)

trend = answer(quality)
show.section("Data quality over the loads")
show.sentences([trend.method])
show.chart(lambda finding, _: charts.quality(finding), trend, height="content")

for title, question, empty in (
    ("Each load", quality, "Nothing was loaded yet."),
    ("Files", loads, "Nothing was loaded yet."),
    ("Rules that rows broke", broken_rules, "No row was refused."),
    ("Refused rows", refused, "No row was refused."),
    ("Odometer readings set aside", set_aside, "No reading contradicts the others."),
):
    finding = answer(question)

    show.section(title)
    show.sentences([finding.method, *(str(count) for count in finding.counted)])
    tables.table(finding, question.__name__, open_in={"vehicle_id": "vehicle_history"}, empty=empty)
    show.downloads(finding, question.__name__)
