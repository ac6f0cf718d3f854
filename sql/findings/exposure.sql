-- One row is: all vehicles kept, with the distance they ran under observation.
-- Reads:      exposures, vehicles
-- Parameters: models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicles (count); km (sum; null where no vehicle has a reading); carried_km (the part of km beyond the vehicles' last readings); without_km (count of vehicles whose distance is unknown); without_start_km (count of vehicles whose odometer in service is blank, taken as 0)
select
    count(*) as vehicles,
    sum(exposures.km) as km,
    coalesce(sum(exposures.carried_km), 0.0) as carried_km,
    count(*) filter (where exposures.km is null) as without_km,
    count(*) filter (
        where vehicles.in_service_on is not null and vehicles.in_service_km is null
    ) as without_start_km
from exposures
inner join vehicles on exposures.vehicle_key = vehicles.vehicle_key
where
    (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
