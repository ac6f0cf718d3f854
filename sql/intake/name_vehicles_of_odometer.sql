-- One row is: a staged row of odometer that names its vehicle by a mark or VIN; it is given the vehicle's own identifier.
-- Reads:      named_vehicles; changes staged_odometer
-- Parameters: none
-- Columns:    none
update staged_odometer
set vehicle_id = named_vehicles.vehicle
from named_vehicles
where
    staged_odometer.vehicle_id = named_vehicles.vehicle_id
    and cast(staged_odometer.read_at as date) = named_vehicles.seen_on
