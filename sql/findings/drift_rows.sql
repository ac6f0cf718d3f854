-- One row is: a value measured on a part under observation that failed at a later job.
-- Reads:      lives, job_checks, visits, parts, jobs, vehicles, components
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; check; unit; value; limit_low; limit_high (that came with the job); before_km (distance left to the failure, null where an odometer is unknown); vehicle_id; job_id; opened_on (date); odometer_km; failed_job_id; age_km (of the part when it failed); several (the vehicle carries several of the component, so the value may be of another one)
with numbers as (
    select vehicle_key, component_key, count(*) as parts
    from parts
    group by vehicle_key, component_key
),

failures as (
    select
        lives.vehicle_key,
        lives.component_key,
        lives.start_km,
        lives.end_km,
        lives.end_job_key,
        ends.visit as end_visit,
        coalesce(began.visit, 0) as began_visit,
        numbers.parts > 1 as several
    from lives
    inner join visits as ends on lives.end_job_key = ends.job_key
    inner join numbers on lives.vehicle_key = numbers.vehicle_key and lives.component_key = numbers.component_key
    left join visits as began on lives.began_job_key = began.job_key
    where lives.ended = 'failed'
),

measured as (
    select
        visits.job_key,
        visits.vehicle_key,
        visits.visit,
        visits.opened_on,
        visits.km,
        job_checks.component_key,
        job_checks."check",
        job_checks.unit,
        job_checks.value,
        job_checks.low,
        job_checks.high
    from job_checks
    inner join visits on job_checks.job_key = visits.job_key
    where job_checks.value is not null and visits.observed
)

select
    components.component,
    measured."check",
    measured.unit,
    measured.value,
    measured.low as limit_low,
    measured.high as limit_high,
    failures.end_km - measured.km as before_km,
    vehicles.vehicle_id,
    jobs.job_id,
    measured.opened_on,
    measured.km as odometer_km,
    failed_jobs.job_id as failed_job_id,
    failures.end_km - failures.start_km as age_km,
    failures.several
from measured
inner join failures
    on measured.vehicle_key = failures.vehicle_key
    and measured.component_key = failures.component_key
    and measured.visit > failures.began_visit
    and measured.visit < failures.end_visit
inner join jobs on measured.job_key = jobs.job_key
inner join jobs as failed_jobs on failures.end_job_key = failed_jobs.job_key
inner join vehicles on failures.vehicle_key = vehicles.vehicle_key
inner join components on failures.component_key = components.component_key
where
    (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by
    components.component,
    measured."check",
    measured.unit,
    vehicles.vehicle_id,
    failures.end_visit,
    measured.visit,
    measured.value,
    measured.low,
    measured.high
