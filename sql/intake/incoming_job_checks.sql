-- One row is: a check or measurement of this load whose job is in the store.
-- Reads:      staged_job_checks, jobs, components
-- Parameters: none
-- Columns:    place; known; job_key; component_key; check; value (unit); unit; low (unit); high (unit); passed
select
    staged_job_checks.place,
    staged_job_checks.known,
    jobs.job_key,
    components.component_key,
    staged_job_checks."check",
    staged_job_checks.value,
    staged_job_checks.unit,
    staged_job_checks.low,
    staged_job_checks.high,
    staged_job_checks.passed
from staged_job_checks
inner join jobs on staged_job_checks.job_id = jobs.job_id
left join components on staged_job_checks.component = components.component
