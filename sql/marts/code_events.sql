-- One row is: a code read on a vehicle at an observed job; a code on several lines of one job is one event.
-- Reads:      job_codes, visits
-- Parameters: none
-- Columns:    code_key; vehicle_key; job_key; visit; opened_on (date); fault_job; episode (1 is the first on this vehicle; a new one starts after a job that logged the code and held a repairing action); begins (whether this event is its episode's first)
with logged as (
    select distinct
        job_codes.code_key,
        visits.vehicle_key,
        visits.job_key,
        visits.visit,
        visits.opened_on,
        visits.fault_job,
        visits.repairing
    from job_codes
    inner join visits on job_codes.job_key = visits.job_key
    where visits.observed
),

marked as (
    select
        *,
        case
            when lag(repairing) over (partition by vehicle_key, code_key order by visit) = false then 0
            else 1
        end as starts
    from logged
)

select
    code_key,
    vehicle_key,
    job_key,
    visit,
    opened_on,
    fault_job,
    cast(
        sum(starts) over (
            partition by vehicle_key, code_key order by visit rows between unbounded preceding and current row
        ) as integer
    ) as episode,
    starts = 1 as begins
from marked
order by vehicle_key, visit, code_key
