-- One row is: an observed fault job of a vehicle kept and a component repaired in it, a code read at it, or the vehicle's own group.
-- Reads:      visits, jobs, vehicles, repairs, components, code_events, codes, record
-- Parameters: by (component, code, vehicle, model, duty or depot); components (list of text, null keeps the jobs that repaired any or none); models, duties, depots (lists of text, null keeps all)
-- Columns:    name (null where not recorded); open_h (hours from opened to closed, or to the end of the record); closed (whether it was closed by then); downtime_h (null where not recorded)
with kept as (
    select
        vehicle_key,
        case $by when 'vehicle' then vehicle_id when 'model' then model when 'duty' then duty when 'depot' then depot end as name
    from vehicles
    where
        (cast($models as varchar[]) is null or list_contains($models, model))
        and (cast($duties as varchar[]) is null or list_contains($duties, duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, depot))
),

repaired as (
    select repairs.job_key, components.component
    from repairs
    inner join components on repairs.component_key = components.component_key
    where (cast($components as varchar[]) is null or list_contains($components, components.component))
),

shared as (
    select job_key, component as name from repaired where $by = 'component'
    union all
    select code_events.job_key, codes.code as name
    from code_events
    inner join codes on code_events.code_key = codes.code_key
    where $by = 'code'
    union all
    select visits.job_key, kept.name
    from visits
    inner join kept on visits.vehicle_key = kept.vehicle_key
    where $by in ('vehicle', 'model', 'duty', 'depot')
)

select
    shared.name,
    case
        when visits.closed_on <= record.as_of then date_diff('second', jobs.opened_at, jobs.closed_at) / 3600.0
        else date_diff('day', visits.opened_on, record.as_of) * 24.0 + 24.0
    end as open_h,
    coalesce(visits.closed_on <= record.as_of, false) as closed,
    jobs.downtime_h
from shared
inner join visits on shared.job_key = visits.job_key
inner join jobs on shared.job_key = jobs.job_key
inner join kept on visits.vehicle_key = kept.vehicle_key
cross join record
where
    visits.observed
    and visits.fault_job
    and ($components is null or shared.job_key in (select job_key from repaired))
order by shared.name, open_h, closed, jobs.downtime_h
