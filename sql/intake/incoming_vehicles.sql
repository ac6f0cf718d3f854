-- One row is: a vehicle of this load.
-- Reads:      staged_vehicles
-- Parameters: none
-- Columns:    place; known; vehicle_id; registration; vin; make; model; model_year; engine; fuel; duty; depot; in_service_on (date); in_service_km (km); history_from (date); left_service_on (date)
select
    place, known, vehicle_id, registration, vin, make, model, model_year, engine, fuel, duty, depot,
    in_service_on, in_service_km, history_from, left_service_on
from staged_vehicles
