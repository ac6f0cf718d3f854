-- One row is: a staged job whose number stands in the store for another job.
-- Reads:      staged_jobs, jobs, vehicles, job_sources
-- Parameters: source (text; null where the load names none); days (days apart from which a date is far)
-- Columns:    place; job_id; vehicle_id (of the job in the store); opened_on (date of the job in the store)
-- Another job: another vehicle and a day far from it; of another source, either of the two.
select
    staged_jobs.place,
    staged_jobs.job_id,
    vehicles.vehicle_id,
    cast(jobs.opened_at as date) as opened_on
from staged_jobs
inner join jobs on staged_jobs.job_id = jobs.job_id
inner join vehicles on jobs.vehicle_key = vehicles.vehicle_key
left join job_sources on jobs.job_key = job_sources.job_key
where
    not staged_jobs.known
    and (
        staged_jobs.vehicle_id <> vehicles.vehicle_id
        or abs(date_diff('day', cast(jobs.opened_at as date), cast(staged_jobs.opened_at as date))) > $days
    )
    and (
        coalesce(job_sources.source <> $source, false)
        or (
            staged_jobs.vehicle_id <> vehicles.vehicle_id
            and abs(date_diff('day', cast(jobs.opened_at as date), cast(staged_jobs.opened_at as date))) > $days
        )
    )
order by staged_jobs.place
