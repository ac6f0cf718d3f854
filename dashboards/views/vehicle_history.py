"""What was done to one vehicle before."""

from fleetlens.findings.vehicles import vehicle_history
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head("Vehicle history", "What is this vehicle, and what was done to it before?")
vehicle = choices.vehicle()

if vehicle is None:
    show.nothing("Choose a vehicle to see its jobs. The filters of vehicles don't hold on this page.")
else:
    finding = answer(vehicle_history, vehicle)

    show.sentences(finding.notes)
    row = tables.table(
        tables.first(finding, ["job_id", "opened_on", "odometer_km", "codes", "complaint", "done"]), "jobs", choose=True
    )
    show.in_full(row, "a job")
    show.downloads(finding)
    show.evidence(finding)
