-- One row is: a vehicle on a day when it is known to have been in the fleet, as `values.identity` takes mentions.
-- Reads:      vehicles
-- Parameters: none
-- Columns:    vin; fleet_number; registration; seen_on (date; null where neither end of its service is known)
select vin, vehicle_id as fleet_number, registration, coalesce(in_service_on, history_from) as seen_on
from vehicles
union all
select vin, vehicle_id, registration, left_service_on
from vehicles
where left_service_on is not null
order by fleet_number, seen_on
