-- One row is: a confirmed failure of a component on a vehicle kept; at most one for each job and part.
-- Reads:      part_endings, parts, visits, jobs, components, vehicles
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; vehicle_id; position; job_id; opened_on (date); km (odometer, null where unknown); observed (whether the job lies in the vehicle's record)
select
    components.component,
    vehicles.vehicle_id,
    part_endings.position,
    jobs.job_id,
    visits.opened_on,
    part_endings.km,
    visits.observed
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
    and (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by components.component, vehicles.vehicle_id, visits.visit, part_endings.position
