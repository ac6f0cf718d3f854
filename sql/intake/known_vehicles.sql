-- One row is: a vehicle as this load has staged it first, else as the store holds it.
-- Reads:      staged_vehicles, vehicles
-- Parameters: none
-- Columns:    vehicle_id; registration; vin; make; model; model_year; engine; fuel; duty; depot; in_service_on (date); in_service_km (km); history_from (date); left_service_on (date)
with first_staged as (
    select vehicle_id, min(place) as place
    from staged_vehicles
    group by vehicle_id
)
select
    staged_vehicles.vehicle_id, registration, vin, make, model, model_year, engine, fuel, duty, depot,
    in_service_on, in_service_km, history_from, left_service_on
from staged_vehicles
inner join first_staged
    on staged_vehicles.vehicle_id = first_staged.vehicle_id and staged_vehicles.place = first_staged.place
union all
select
    vehicles.vehicle_id, registration, vin, make, model, model_year, engine, fuel, duty, depot,
    in_service_on, in_service_km, history_from, left_service_on
from vehicles
anti join first_staged on vehicles.vehicle_id = first_staged.vehicle_id
order by vehicle_id
