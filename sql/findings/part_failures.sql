-- One row is: a failure of a part that a job had fitted: the first renewal after it that found the part failed, or a later one of the same part.
-- Reads:      part_endings, part_rows, visits, vehicles, components, jobs
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; component; position ('' where it tells nothing apart); part_number (of the part fitted, null where none is recorded); part_grade; fitted_on (date the fitting job was closed, else opened); fitted_km; fitted_km_is (recorded, estimated or set aside; null where unknown); failed_on (date the job was opened); failed_km; failed_km_is; days (from fitted_on); km (between the two odometers, null where one is unknown); found; parts_cost (of the failing job's rows on the part, credits netted; null where none is recorded); labour_cost; model; duty; depot; fit_job_id; fail_job_id
with last_fitted as (
    select
        part_endings.*,
        max(case when part_endings.began_as = 'replaced' or part_endings.ended = 'removed' then part_endings.visit end) over (
            partition by part_endings.vehicle_key, part_endings.component_key, part_endings.position
            order by part_endings.visit
            rows between unbounded preceding and 1 preceding
        ) as fit_visit
    from part_endings
    inner join components on part_endings.component_key = components.component_key
    inner join vehicles on part_endings.vehicle_key = vehicles.vehicle_key
    where
        (cast($components as varchar[]) is null or list_contains($components, components.component))
        and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
),

failures as (
    select
        last_fitted.vehicle_key,
        last_fitted.component_key,
        last_fitted.position,
        last_fitted.job_key as fail_job_key,
        last_fitted.km as failed_km,
        last_fitted.km_is as failed_km_is,
        last_fitted.found,
        fits.job_key as fit_job_key,
        fits.km as fitted_km,
        fits.km_is as fitted_km_is,
        fits.part_grade
    from last_fitted
    inner join part_endings as fits
        on last_fitted.vehicle_key = fits.vehicle_key
        and last_fitted.component_key = fits.component_key
        and last_fitted.position = fits.position
        and last_fitted.fit_visit = fits.visit
    where last_fitted.ended = 'failed' and fits.began_as = 'replaced'
),

-- What the failing job holds on that part.
spent as (
    select
        failures.fail_job_key,
        failures.component_key,
        failures.position,
        sum(part_rows.parts_cost) as parts_cost,
        sum(part_rows.labour_cost) as labour_cost
    from failures
    inner join part_rows
        on failures.fail_job_key = part_rows.job_key
        and failures.component_key = part_rows.component_key
        and failures.position = part_rows.position
    group by failures.fail_job_key, failures.component_key, failures.position
)

select
    vehicles.vehicle_id,
    components.component,
    failures.position,
    bought.part_number,
    failures.part_grade,
    coalesce(fit_visits.closed_on, fit_visits.opened_on) as fitted_on,
    failures.fitted_km,
    failures.fitted_km_is,
    fail_visits.opened_on as failed_on,
    failures.failed_km,
    failures.failed_km_is,
    date_diff('day', coalesce(fit_visits.closed_on, fit_visits.opened_on), fail_visits.opened_on) as days,
    failures.failed_km - failures.fitted_km as km,
    failures.found,
    spent.parts_cost,
    spent.labour_cost,
    vehicles.model,
    vehicles.duty,
    vehicles.depot,
    fit_jobs.job_id as fit_job_id,
    fail_jobs.job_id as fail_job_id
from failures
inner join components on failures.component_key = components.component_key
inner join vehicles on failures.vehicle_key = vehicles.vehicle_key
inner join visits as fit_visits on failures.fit_job_key = fit_visits.job_key
inner join visits as fail_visits on failures.fail_job_key = fail_visits.job_key
inner join jobs as fit_jobs on failures.fit_job_key = fit_jobs.job_key
inner join jobs as fail_jobs on failures.fail_job_key = fail_jobs.job_key
left join part_rows as bought
    on failures.fit_job_key = bought.job_key
    and failures.component_key = bought.component_key
    and failures.position = bought.position
    and bought.action = 'replace'
left join spent
    on failures.fail_job_key = spent.fail_job_key
    and failures.component_key = spent.component_key
    and failures.position = spent.position
order by vehicles.vehicle_id, components.component, failures.position, fail_visits.opened_on, fail_jobs.job_id
