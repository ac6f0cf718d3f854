-- One row is: a job that repeats another one under a different number: the same vehicle, day, odometer, work, complaint and cost, at least one of the last two being recorded.
-- Reads:      jobs, job_actions, rules
-- Parameters: none
-- Columns:    job_key; original_job_key (the one of the lowest number counts)
with work as (
    select
        job_key,
        string_agg(
            distinct concat(cast(component_key as varchar), ' ', cast(action as varchar), ' ', coalesce(position, '')),
            ', ' order by concat(cast(component_key as varchar), ' ', cast(action as varchar), ' ', coalesce(position, ''))
        ) as done,
        sum(coalesce(labour_cost, 0) + coalesce(parts_cost, 0)) as cost
    from job_actions
    group by job_key
),

alike as (
    select
        jobs.job_key,
        first_value(jobs.job_key) over (
            partition by
                jobs.vehicle_key,
                cast(jobs.opened_at as date),
                jobs.odometer_km,
                jobs.reason,
                jobs.complaint,
                work.done,
                work.cost
            order by jobs.job_id
        ) as original_job_key
    from jobs
    inner join work on jobs.job_key = work.job_key
    where jobs.odometer_km is not null and (jobs.complaint is not null or work.cost <> 0)
)

select alike.job_key, alike.original_job_key
from alike
cross join rules
where alike.job_key <> alike.original_job_key and rules.leave_out_copies
order by alike.job_key
