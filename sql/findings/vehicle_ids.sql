-- One row is: a vehicle kept.
-- Reads:      vehicles
-- Parameters: models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; registration; model; duty; depot
select vehicle_id, registration, model, duty, depot
from vehicles
where
    (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by vehicle_id
