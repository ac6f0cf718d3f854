-- One row is: a vehicle, with its record.
-- Reads:      vehicles, vehicle_record, exposures, part_endings
-- Parameters: vehicle_id (text)
-- Columns:    vehicle_id; registration; vin; make; model; model_year; engine; fuel; duty; depot; in_service_on (date); record_from (date); record_to (date); to_km (odometer at the end of the record); km (under observation); disabled (an emission component was taken out of use)
with disabling as (
    select distinct vehicle_key from part_endings where ended = 'removed'
)

select
    vehicles.vehicle_id,
    vehicles.registration,
    vehicles.vin,
    vehicles.make,
    vehicles.model,
    vehicles.model_year,
    vehicles.engine,
    vehicles.fuel,
    vehicles.duty,
    vehicles.depot,
    vehicles.in_service_on,
    vehicle_record.record_from,
    vehicle_record.record_to,
    exposures.to_km,
    exposures.km,
    disabling.vehicle_key is not null as disabled
from vehicles
inner join vehicle_record on vehicles.vehicle_key = vehicle_record.vehicle_key
inner join exposures on vehicles.vehicle_key = exposures.vehicle_key
left join disabling on vehicles.vehicle_key = disabling.vehicle_key
where vehicles.vehicle_id = $vehicle_id
