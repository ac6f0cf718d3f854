-- One row is: a job of one vehicle.
-- Reads:      jobs, vehicles, visits, job_codes, codes, job_actions, components
-- Parameters: vehicle_id (text)
-- Columns:    job_id; opened_on (date); closed_on (date); odometer_km; odometer_is (recorded, estimated or set aside); reason; codes (text, each code once); done (text, component: action); complaint; workshop; downtime_h; cost (labour and parts, null where none is recorded)
with own as (
    select jobs.job_key
    from jobs
    inner join vehicles on jobs.vehicle_key = vehicles.vehicle_key
    where vehicles.vehicle_id = $vehicle_id
),

read_codes as (
    select job_codes.job_key, string_agg(distinct codes.code, ', ' order by codes.code) as codes
    from job_codes
    inner join codes on job_codes.code_key = codes.code_key
    where job_codes.job_key in (select job_key from own)
    group by job_codes.job_key
),

worked as (
    select
        job_actions.job_key,
        string_agg(
            concat(components.component, ': ', cast(job_actions.action as varchar)),
            ', ' order by coalesce(job_actions.line, 0), components.component, cast(job_actions.action as varchar)
        ) as done,
        sum(
            case
                when job_actions.labour_cost is null then job_actions.parts_cost
                else job_actions.labour_cost + coalesce(job_actions.parts_cost, 0)
            end
        ) as cost
    from job_actions
    inner join components on job_actions.component_key = components.component_key
    where job_actions.job_key in (select job_key from own)
    group by job_actions.job_key
)

select
    jobs.job_id,
    visits.opened_on,
    visits.closed_on,
    visits.km as odometer_km,
    visits.km_is as odometer_is,
    cast(jobs.reason as varchar) as reason,
    read_codes.codes,
    worked.done,
    jobs.complaint,
    jobs.workshop,
    jobs.downtime_h,
    worked.cost
from own
inner join jobs on own.job_key = jobs.job_key
inner join visits on jobs.job_key = visits.job_key
left join read_codes on jobs.job_key = read_codes.job_key
left join worked on jobs.job_key = worked.job_key
order by visits.visit
