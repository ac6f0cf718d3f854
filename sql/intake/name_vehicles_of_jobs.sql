-- One row is: a staged row of jobs that names its vehicle by a mark or VIN; it is given the vehicle's own identifier.
-- Reads:      named_vehicles; changes staged_jobs
-- Parameters: none
-- Columns:    none
update staged_jobs
set vehicle_id = named_vehicles.vehicle
from named_vehicles
where
    staged_jobs.vehicle_id = named_vehicles.vehicle_id
    and cast(staged_jobs.opened_at as date) = named_vehicles.seen_on
