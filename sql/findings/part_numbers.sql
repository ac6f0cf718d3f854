-- One row is: a component and a model of the vehicles kept, with the part number that was fitted to it most often.
-- Reads:      part_rows, components, vehicles, jobs
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; model (null where none is recorded); part_number; fitted (count of replacements that named it)
with counted as (
    select
        components.component,
        vehicles.model,
        part_rows.part_number,
        count(*) as fitted,
        max(jobs.opened_at) as last_at
    from part_rows
    inner join components on part_rows.component_key = components.component_key
    inner join vehicles on part_rows.vehicle_key = vehicles.vehicle_key
    inner join jobs on part_rows.job_key = jobs.job_key
    where
        part_rows.action = 'replace'
        and part_rows.part_number is not null
        and (cast($components as varchar[]) is null or list_contains($components, components.component))
        and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
    group by components.component, vehicles.model, part_rows.part_number
),

ranked as (
    select
        *,
        row_number() over (
            partition by component, model order by fitted desc, last_at desc, part_number
        ) as place
    from counted
)

select component, model, part_number, fitted
from ranked
where place = 1
order by component, model
