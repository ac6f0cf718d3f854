-- One row is: a run of vehicles that stand together by key and hold about so many jobs.
-- Reads:      jobs
-- Parameters: jobs_at_once (count; a run ends with the vehicle that reaches it)
-- Columns:    first_key (of the vehicles); last_key; jobs (count)
with of_vehicle as (
    select vehicle_key, count(*) as jobs
    from jobs
    group by vehicle_key
),

counted as (
    select vehicle_key, jobs, sum(jobs) over (order by vehicle_key) - jobs as jobs_before
    from of_vehicle
)

select
    min(vehicle_key) as first_key,
    max(vehicle_key) as last_key,
    cast(sum(jobs) as bigint) as jobs
from counted
group by floor(jobs_before / $jobs_at_once)
order by first_key
