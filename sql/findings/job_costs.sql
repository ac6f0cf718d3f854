-- One row is: an observed job of a vehicle kept and a component, a code or the vehicle it is counted for.
-- Reads:      visits, jobs, vehicles, job_money, components, code_events, codes, record
-- Parameters: by (component, code or vehicle); components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    job_id; vehicle_id; opened_on (date); closed_on (date, null while open at the end of the record); reason; component (null unless by component); code (null unless by code); labour_cost (of the component, else of the whole job or the components kept; credits netted, null where none is recorded); parts_cost; downtime_h (of the job, null where not recorded or where nothing was repaired on the component); model; duty; depot
with kept as (
    select vehicle_key, vehicle_id, model, duty, depot
    from vehicles
    where
        (cast($models as varchar[]) is null or list_contains($models, model))
        and (cast($duties as varchar[]) is null or list_contains($duties, duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, depot))
),

chosen as (
    select component_key, component
    from components
    where (cast($components as varchar[]) is null or list_contains($components, component))
),

work as (
    select *
    from job_money
    where $by = 'component' and component_key in (select component_key from chosen)
),

whole as (
    select job_key, sum(labour_cost) as labour_cost, sum(parts_cost) as parts_cost
    from job_money
    where $by <> 'component' and component_key in (select component_key from chosen)
    group by job_key
),

shared as (
    select
        work.job_key,
        chosen.component,
        cast(null as varchar) as code,
        work.labour_cost,
        work.parts_cost,
        work.repaired
    from work
    inner join chosen on work.component_key = chosen.component_key
    union all
    select code_events.job_key, null as component, codes.code, whole.labour_cost, whole.parts_cost, true as repaired
    from code_events
    inner join codes on code_events.code_key = codes.code_key
    left join whole on code_events.job_key = whole.job_key
    where $by = 'code' and ($components is null or whole.job_key is not null)
    union all
    select visits.job_key, null as component, null as code, whole.labour_cost, whole.parts_cost, true as repaired
    from visits
    left join whole on visits.job_key = whole.job_key
    where $by = 'vehicle' and ($components is null or whole.job_key is not null)
)

select
    jobs.job_id,
    kept.vehicle_id,
    visits.opened_on,
    case when visits.closed_on <= record.as_of then visits.closed_on end as closed_on,
    cast(jobs.reason as varchar) as reason,
    shared.component,
    shared.code,
    shared.labour_cost,
    shared.parts_cost,
    case when shared.repaired then jobs.downtime_h end as downtime_h,
    kept.model,
    kept.duty,
    kept.depot
from shared
inner join visits on shared.job_key = visits.job_key
inner join jobs on shared.job_key = jobs.job_key
inner join kept on visits.vehicle_key = kept.vehicle_key
cross join record
where visits.observed
order by kept.vehicle_id, visits.opened_on, jobs.job_id, shared.component, shared.code
