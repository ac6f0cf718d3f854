-- One row is: the end of a part's life on a vehicle kept, with what it cost.
-- Reads:      part_endings, part_rows, components, vehicles, jobs
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; began_as (kind of the life it started, null where none); ended; cost (labour and parts of the component's rows, null where none is recorded); job_cost (of all rows of the job); downtime_h (of the job, null where not recorded)
with totals as (
    select job_key, sum(cost) as job_cost from part_rows group by job_key
)

select
    components.component,
    part_endings.began_as,
    part_endings.ended,
    part_endings.cost,
    totals.job_cost,
    jobs.downtime_h
from part_endings
inner join components on part_endings.component_key = components.component_key
inner join vehicles on part_endings.vehicle_key = vehicles.vehicle_key
inner join jobs on part_endings.job_key = jobs.job_key
left join totals on part_endings.job_key = totals.job_key
where
    (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by components.component, vehicles.vehicle_id, part_endings.visit, part_endings.position
