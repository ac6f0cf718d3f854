-- One row is: a confirmed failure of a component on a vehicle kept, at an observed job; at most one for each job and part.
-- Reads:      part_endings, parts, visits, components, vehicles, jobs
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; component; position; job_id; opened_on (date); odometer_km (null where unknown)
select
    vehicles.vehicle_id,
    components.component,
    part_endings.position,
    jobs.job_id,
    visits.opened_on,
    part_endings.km as odometer_km
from part_endings
inner join parts
    on part_endings.vehicle_key = parts.vehicle_key
    and part_endings.component_key = parts.component_key
    and part_endings.position = parts.position
inner join visits on part_endings.job_key = visits.job_key
inner join jobs on part_endings.job_key = jobs.job_key
inner join components on part_endings.component_key = components.component_key
inner join vehicles on part_endings.vehicle_key = vehicles.vehicle_key
where
    part_endings.ended = 'failed'
    and visits.observed
    and (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by vehicles.vehicle_id, visits.opened_on, jobs.job_id, components.component, part_endings.position
