-- One row is: all observed jobs of the vehicles kept, and of the components kept if any are named.
-- Reads:      visits, vehicles, part_rows, components, record
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    jobs (count); without_cost (no row records money); open_jobs (fault jobs not closed by the end of the record)
with money as (
    select part_rows.job_key, count(part_rows.labour_cost) + count(part_rows.parts_cost) as amounts
    from part_rows
    inner join components on part_rows.component_key = components.component_key
    where (cast($components as varchar[]) is null or list_contains($components, components.component))
    group by part_rows.job_key
)

select
    count(*) as jobs,
    count(*) filter (where coalesce(money.amounts, 0) = 0) as without_cost,
    count(*) filter (where visits.fault_job and not coalesce(visits.closed_on <= record.as_of, false)) as open_jobs
from visits
inner join vehicles on visits.vehicle_key = vehicles.vehicle_key
cross join record
left join money on visits.job_key = money.job_key
where
    visits.observed
    and ($components is null or money.job_key is not null)
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
