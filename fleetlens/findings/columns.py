"""What each column of a result means: its words for people, its unit and its definition."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ColumnText:
    """Words for one column: a heading, the unit ("" where none) and one sentence of meaning."""

    label: str
    unit: str
    meaning: str

    @property
    def heading(self) -> str:
        """The label with its unit, as it stands over a column."""
        return f"{self.label} ({self.unit})" if self.unit else self.label


COLUMNS: dict[str, ColumnText] = {
    name: ColumnText(label, unit, meaning)
    for name, label, unit, meaning in (
        ("action", "Action", "", "What was done; of several the strongest renewal."),
        ("age_km", "Age at its end", "km", "Distance the part ran in this life."),
        ("at_risk", "At risk", "lives", "Lives under observation just before this distance."),
        ("b10_high", "B10, upper limit", "km", "95 % likelihood limit of B10."),
        ("b10_km", "B10", "km", "Distance by which one in ten has failed, from the Weibull fit."),
        ("b10_low", "B10, lower limit", "km", "95 % likelihood limit of B10."),
        ("began_as", "Began as", "", "How the life began: new, replaced, repaired or cleaned."),
        (
            "began_job_id",
            "Began with job",
            "",
            "The job that started the life; blank for a part that came with the vehicle.",
        ),
        ("characteristic_life_high", "Characteristic life, upper limit", "km", "95 % likelihood limit."),
        (
            "characteristic_life_km",
            "Characteristic life",
            "km",
            "Distance by which 63.2 % have failed (Weibull).",
        ),
        ("characteristic_life_low", "Characteristic life, lower limit", "km", "95 % likelihood limit."),
        ("closed_on", "Closed", "", "The day the job was closed."),
        ("code", "Code", "", "Fault code read at a visit. A code is not a diagnosis."),
        ("codes", "Codes", "", "Codes read at the visit."),
        ("comeback_job_id", "Comeback job", "", "The job that is the comeback; blank where none came."),
        ("comeback_on", "Came back on", "", "The day the comeback was opened."),
        ("comebacks", "Comebacks", "repairs", "Repairs followed by a comeback inside the window."),
        ("complaint", "Complaint", "", "The complaint in the driver's words."),
        ("component", "Component", "", "The component, by its key."),
        ("cost", "Cost", "currency", "Labour and parts of the job, credits netted."),
        (
            "cost_per_1000km",
            "Cost at the interval",
            "currency per 1,000 km",
            "Long-run cost of cleaning at the interval.",
        ),
        (
            "cost_per_1000km_now",
            "Cost today",
            "currency per 1,000 km",
            "Cost of today's practice at the same prices.",
        ),
        ("day_zero", "Repaired on", "", "The day the repair was closed, else opened."),
        ("days", "Days to comeback", "d", "From the day of the repair to the comeback."),
        ("depot", "Depot", "", "Where the vehicle is based."),
        ("description", "Description", "", "What the code stands for; blank where it isn't in our list."),
        ("done", "Done", "", "Components and actions of the visit."),
        ("downtime_h", "Downtime", "h", "Hours the vehicle was off the road."),
        ("duty", "Duty", "", "How the vehicle lives."),
        ("end_job_id", "Ended by job", "", "The job that ended the life; blank where it still runs."),
        ("end_km", "Odometer at its end", "km", "Odometer when the life ended or was last observed."),
        ("ended", "Ended", "", "Failed, preventive, removed, left the fleet, or the record ends."),
        ("entry_km", "Odometer at entry", "km", "Odometer from which the life is under observation."),
        ("episode", "Episode", "", "Number of the episode of this code on this vehicle."),
        (
            "episodes",
            "Episodes",
            "episodes",
            "Runs of one fault: events with no completed repair between them.",
        ),
        (
            "estimated",
            "End estimated",
            "",
            "The end has no good reading of its own; the vehicle's usage at that date stands in.",
        ),
        ("events", "Events", "events", "Vehicle, job and code; a code on two lines of a job is one event."),
        ("failures", "Failures", "failures", "Lives that ended in a confirmed failure."),
        ("followed_days", "Followed", "d", "Days the repair was followed, up to the window."),
        ("high", "Upper limit", "", "95 % limit."),
        (
            "interval_from_km",
            "Failed after",
            "km",
            "Odometer at which it was last known to work; blank where the failure's time is known.",
        ),
        (
            "interval_high",
            "Interval, upper limit",
            "km",
            "95 % limit from the uncertainty of the fit; blank: none.",
        ),
        (
            "interval_km",
            "Cleaning interval",
            "km",
            "The interval of least long-run cost; blank where none is advised.",
        ),
        ("interval_low", "Interval, lower limit", "km", "95 % limit from the uncertainty of the fit."),
        ("job_id", "Job", "", "The workshop's number of the job."),
        (
            "kind",
            "Kind of comeback",
            "",
            "Same component again; same code, other cause found; repeat code, nothing found.",
        ),
        ("kinds", "Kinds of comeback", "repairs", "Comebacks by kind."),
        (
            "kinds_nothing_found",
            "Repeat code, nothing found",
            "repairs",
            "Comebacks that shared a code and repaired nothing.",
        ),
        (
            "kinds_other_cause",
            "Same code, other cause found",
            "repairs",
            "Comebacks that shared a code and repaired another component.",
        ),
        (
            "kinds_same_component",
            "Same component again",
            "repairs",
            "Comebacks that repaired the same component.",
        ),
        ("km", "Distance", "km", "Distance."),
        ("proposed_km", "Would fit as", "km", "The reading in another unit or with a digit moved; blank: none fits."),
        ("used_km", "Used as", "km", "Distance that stands in the figures; blank: the reading is set aside."),
        ("previous_on", "Reading before, on", "", "The day of the good reading before; blank: there is none."),
        ("previous_km", "Reading before", "km", "The good reading before, as read."),
        ("next_on", "Reading after, on", "", "The day of the good reading after; blank: there is none."),
        ("next_km", "Reading after", "km", "The good reading after, as read."),
        ("km_later", "Distance to comeback", "km", "From the repair to the comeback."),
        ("lives", "Lives", "lives", "Lives under observation."),
        ("loaded_at", "Loaded at", "UTC", "When the load was published."),
        ("load_id", "Load", "", "Number of the load."),
        ("low", "Lower limit", "", "95 % limit."),
        (
            "mean_events",
            "Mean events per vehicle",
            "events",
            "Mean cumulative function: average number of events per vehicle by this distance.",
        ),
        ("median_high", "Median life, upper limit", "km", "95 % limit; blank: not reached."),
        (
            "median_km",
            "Median life",
            "km",
            "Distance by which half have failed (Kaplan–Meier); blank: not reached.",
        ),
        ("median_low", "Median life, lower limit", "km", "95 % limit."),
        ("model", "Model", "", "Model of the vehicle."),
        ("model_year", "Model year", "", "Model year of the vehicle."),
        ("odometer_is", "Odometer is", "", "Recorded, estimated from the vehicle's usage, or set aside."),
        ("odometer_km", "Odometer", "km", "Odometer at the visit."),
        ("opened_on", "Opened", "", "The day the job was opened."),
        ("part_grade", "Part grade", "", "Grade of the part fitted at the start of the life."),
        ("path", "File", "", "The file as it was named to the load."),
        ("position", "Position", "", "Which of several."),
        ("rate_high", "Rate, upper limit", "per 100,000 km", "95 % exact Poisson limit."),
        ("rate_low", "Rate, lower limit", "per 100,000 km", "95 % exact Poisson limit."),
        ("rate_per_100k_km", "Rate", "per 100,000 km", "Episodes per 100,000 km driven under observation."),
        ("read_on", "Read on", "", "The day of the reading."),
        (
            "reading_is",
            "Reading is",
            "",
            "Unit, tenths, filler, typo or unsettled: set aside; corrected: used as proposed; runs on: the first "
            "of an odometer that starts anew.",
        ),
        ("reason", "Reason", "", "Why the vehicle came."),
        ("repairs", "Repairs", "repairs", "Fault job and component with a repairing action."),
        ("shape", "Shape", "", "Weibull shape: below 1 early failures, 1 constant, above 1 wear-out."),
        ("shape_high", "Shape, upper limit", "", "95 % likelihood limit."),
        ("shape_low", "Shape, lower limit", "", "95 % likelihood limit."),
        (
            "share",
            "Share surviving",
            "share",
            "Share of lives that last longer than this distance (Kaplan–Meier).",
        ),
        *(
            (f"share_{days}d{end}", f"Comeback share at {days} days{words}", "share", meaning)
            for days in (30, 60, 90)
            for end, words, meaning in (
                ("", "", "One minus Kaplan–Meier of repair to comeback."),
                ("_low", ", lower limit", "95 % limit."),
                ("_high", ", upper limit", "95 % limit."),
            )
        ),
        ("source", "Source", "", "Where the reading came from."),
        ("start_km", "Odometer at its start", "km", "Odometer when the life began."),
        ("status", "Status", "", "State of the code when it was read."),
        ("survival", "Share surviving", "share", "Kaplan–Meier share at the distances asked for."),
        ("table_name", "Table", "", "The input table."),
        ("vehicle_id", "Vehicle", "", "The fleet's own identifier."),
        ("vehicles", "Vehicles", "vehicles", "Vehicles concerned."),
        ("vehicles_at_risk", "Vehicles at risk", "vehicles", "Vehicles under observation at this distance."),
        ("verdict", "Verdict", "", "Whether cleaning on a schedule pays."),
        ("why", "Why", "", "The reason."),
        ("workshop", "Workshop", "", "The workshop that did the job."),
        ("rows_in", "Rows in", "rows", "Rows read from the file."),
        ("accepted", "Accepted", "rows", "Rows that are new or took the place of stored ones."),
        ("repeated", "Repeated", "rows", "Rows that were there already."),
        ("refused", "Refused", "rows", "Rows that broke a rule."),
        ("replaced", "Replaced", "rows", "Of the accepted: took the place of a stored row."),
        ("row", "Row", "", "Row of the file; 1 is the header."),
        ("column", "Column", "", "Column of the file."),
        ("value", "Value", "", "The value as it stood in the file."),
        ("rule", "Rule", "", "The rule that was broken."),
        ("rows", "Rows", "rows", "Rows concerned."),
        ("examples", "Examples", "", "The first rows that broke the rule, with what is wrong in them."),
        ("share_refused", "Share refused", "share", "Rows that broke a rule, of the rows that came."),
        ("sha256", "SHA-256", "", "Fingerprint of the file."),
        (
            "per_100k_km",
            "Failures per 100,000 km",
            "per 100,000 km",
            "Failures per 100,000 km driven under observation.",
        ),
    )
}
