-- One row is: a confirmed failure of a component on a vehicle kept; at most one for each job and part.
-- Reads:      failures, jobs, components, vehicles
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; vehicle_id; position; job_id; opened_on (date); km (odometer, null where unknown); observed (whether the job lies in the vehicle's record)
select
    components.component,
    vehicles.vehicle_id,
    failures.position,
    jobs.job_id,
    failures.opened_on,
    failures.km,
    failures.observed
from failures
inner join jobs on failures.job_key = jobs.job_key
inner join components on failures.component_key = components.component_key
inner join vehicles on failures.vehicle_key = vehicles.vehicle_key
where
    (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by components.component, vehicles.vehicle_id, failures.visit, failures.position
