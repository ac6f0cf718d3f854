-- One row is: a check or measurement at an observed job of a vehicle kept.
-- Reads:      job_checks, visits, jobs, vehicles, components, code_events, codes
-- Parameters: codes (list of text, keeps fault jobs that logged one, null keeps all jobs); components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    job_id; vehicle_id; model; duty; depot; opened_on (date); odometer_km (null where unknown); component (null where the check names none); check; unit; value; limit_low; limit_high (that came with the job); passed (as recorded, else by the limits, null where neither tells); by_limits (passed comes from the limits alone); contradicts (recorded outcome and limits disagree)
with logged as (
    select distinct code_events.job_key
    from code_events
    inner join codes on code_events.code_key = codes.code_key
    where code_events.fault_job and list_contains($codes, codes.code)
),

measured as (
    select
        visits.job_key,
        visits.vehicle_key,
        visits.visit,
        visits.opened_on,
        visits.km as odometer_km,
        job_checks.component_key,
        job_checks."check",
        job_checks.unit,
        job_checks.value,
        job_checks.low,
        job_checks.high,
        job_checks.passed as recorded,
        case
            when job_checks.value is null or (job_checks.low is null and job_checks.high is null) then null
            else coalesce(job_checks.value >= job_checks.low, true) and coalesce(job_checks.value <= job_checks.high, true)
        end as inside
    from job_checks
    inner join visits on job_checks.job_key = visits.job_key
    left join logged on job_checks.job_key = logged.job_key
    where visits.observed and (cast($codes as varchar[]) is null or logged.job_key is not null)
)

select
    jobs.job_id,
    vehicles.vehicle_id,
    vehicles.model,
    vehicles.duty,
    vehicles.depot,
    measured.opened_on,
    measured.odometer_km,
    components.component,
    measured."check",
    measured.unit,
    measured.value,
    measured.low as limit_low,
    measured.high as limit_high,
    coalesce(measured.recorded, measured.inside) as passed,
    measured.recorded is null and measured.inside is not null as by_limits,
    coalesce(measured.recorded <> measured.inside, false) as contradicts
from measured
inner join jobs on measured.job_key = jobs.job_key
inner join vehicles on measured.vehicle_key = vehicles.vehicle_key
left join components on measured.component_key = components.component_key
where
    (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by
    vehicles.vehicle_id,
    measured.visit,
    components.component nulls last,
    measured."check",
    measured.unit,
    measured.value nulls last,
    measured.low,
    measured.high,
    measured.recorded
