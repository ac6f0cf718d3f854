-- One row is: a confirmed failure of a part under observation on a vehicle kept, with its job.
-- Reads:      failures, jobs, components, vehicles
-- Parameters: components, models, duties, depots (lists of text, null keeps all)
-- Columns:    job_id; vehicle_id; opened_on (date); component; position; found (on the road or at an inspection); odometer_km; reason; model; duty; depot
select
    jobs.job_id,
    vehicles.vehicle_id,
    failures.opened_on,
    components.component,
    failures.position,
    failures.found,
    failures.km as odometer_km,
    cast(jobs.reason as varchar) as reason,
    vehicles.model,
    vehicles.duty,
    vehicles.depot
from failures
inner join jobs on failures.job_key = jobs.job_key
inner join components on failures.component_key = components.component_key
inner join vehicles on failures.vehicle_key = vehicles.vehicle_key
where
    failures.observed
    and (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by failures.opened_on, vehicles.vehicle_id, jobs.job_id, components.component, failures.position
