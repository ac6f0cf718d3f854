-- One row is: a vehicle kept and a component it carries, with the distance over which it is observed.
-- Reads:      parts, exposures, components, vehicles
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; vehicle_id; model; model_year; duty; depot; from_km (null without readings); to_km; km
with carried as (
    select distinct vehicle_key, component_key from parts
)

select
    components.component,
    vehicles.vehicle_id,
    vehicles.model,
    vehicles.model_year,
    vehicles.duty,
    vehicles.depot,
    exposures.from_km,
    exposures.to_km,
    exposures.km
from carried
inner join exposures on carried.vehicle_key = exposures.vehicle_key
inner join components on carried.component_key = components.component_key
inner join vehicles on carried.vehicle_key = vehicles.vehicle_key
where
    (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by components.component, vehicles.vehicle_id
