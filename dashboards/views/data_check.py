"""How well the record was kept: loads, refused rows, and odometer readings set aside."""

from fleetlens.findings.fleet import loads, refused, set_aside
from fleetlens_dashboard import show, tables
from fleetlens_dashboard.record import answer

show.head(
    "Data check",
    "What was loaded, what was refused, and which odometer readings contradict the others? "
    "The filters of vehicles don't hold on this page.",
)

for title, question, empty in (
    ("Loads", loads, "Nothing was loaded yet."),
    ("Refused rows", refused, "No row was refused."),
    ("Odometer readings set aside", set_aside, "No reading contradicts the others."),
):
    finding = answer(question)

    show.section(title)
    show.sentences([finding.method, *(str(count) for count in finding.counted)])
    tables.table(finding, question.__name__, open_in={"vehicle_id": "vehicle_history"}, empty=empty)
    show.downloads(finding, question.__name__)
