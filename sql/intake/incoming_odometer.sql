-- One row is: an odometer reading of this load whose vehicle is in the store.
-- Reads:      staged_odometer, vehicles
-- Parameters: none
-- Columns:    place; known; vehicle_key; read_at; odometer_km (km); source
select
    staged_odometer.place,
    staged_odometer.known,
    vehicles.vehicle_key,
    staged_odometer.read_at,
    staged_odometer.odometer_km,
    staged_odometer.source
from staged_odometer
inner join vehicles on staged_odometer.vehicle_id = vehicles.vehicle_id
