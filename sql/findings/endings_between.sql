-- One row is: the end of a part's life between two days, on a vehicle kept, with what began there.
-- Reads:      part_endings, components, vehicles, jobs
-- Parameters: since, until (dates: after the first, up to the second); components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; component; position; ended (failed, preventive or removed); began_as (of the life that begins there, null where none does); ended_on (date); ended_km
select
    vehicles.vehicle_id,
    components.component,
    part_endings.position,
    part_endings.ended,
    part_endings.began_as,
    cast(jobs.opened_at as date) as ended_on,
    part_endings.km as ended_km
from part_endings
inner join components on part_endings.component_key = components.component_key
inner join vehicles on part_endings.vehicle_key = vehicles.vehicle_key
inner join jobs on part_endings.job_key = jobs.job_key
where
    cast(jobs.opened_at as date) > cast($since as date)
    and cast(jobs.opened_at as date) <= cast($until as date)
    and (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by vehicles.vehicle_id, components.component, part_endings.position, ended_on, part_endings.visit
