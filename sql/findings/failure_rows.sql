-- One row is: a confirmed failure of a part under observation on a vehicle kept, with its job.
-- Reads:      part_endings, parts, visits, jobs, components, vehicles
-- Parameters: components, models, duties, depots (lists of text, null keeps all)
-- Columns:    job_id; vehicle_id; opened_on (date); component; position; found (on the road or at an inspection); odometer_km; reason; model; duty; depot
select
    jobs.job_id,
    vehicles.vehicle_id,
    visits.opened_on,
    components.component,
    part_endings.position,
    part_endings.found,
    visits.km as odometer_km,
    cast(jobs.reason as varchar) as reason,
    vehicles.model,
    vehicles.duty,
    vehicles.depot
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
order by visits.opened_on, vehicles.vehicle_id, jobs.job_id, components.component, part_endings.position
