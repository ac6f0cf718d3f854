"""Kinds of mess in job histories that nothing else tests, by their numbers in our list (common practice, no source)."""

import os
import zipfile

from intake.small import counts

from fleetlens.intake.load import load


def test_64_an_archive_of_the_same_name_with_other_content_is_read(fleet, tmp_path, ask):
    archive = tmp_path / "march.zip"
    for job in ("J8", "J9"):
        with zipfile.ZipFile(archive, "w") as made:
            made.writestr("jobs.csv", f"job_id,vehicle_id,opened_at\n{job},V1,2024-03-04\n")
        os.utime(archive, (0, 0))  # its date tells nothing
        assert counts(load([archive], fleet)) == (1, 1, 0, 0, 0)
    assert counts(load([archive], fleet)) == (1, 0, 1, 0, 0)
    assert ask("select job_id from jobs where job_id in ('J8', 'J9') order by 1") == [("J8",), ("J9",)]


def test_22_a_job_over_two_months_counts_on_the_day_it_was_opened(fleet, write, ask):
    load([write({"jobs.csv": "job_id,vehicle_id,opened_at,closed_at\nJ8,V1,2024-03-30,2024-04-02\n"}, "more")], fleet)
    assert ask(
        "select opened_on::varchar, closed_on::varchar from visits join jobs using (job_key) where job_id = 'J8'"
    ) == [("2024-03-30", "2024-04-02")]
