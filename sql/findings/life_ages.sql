-- One row is: a life of a part on a vehicle kept, with what its figures need.
-- Reads:      lives, components, vehicles
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; position; began_as; part_grade; model; model_year; duty; depot; start_km; entry_km; end_km; age_km; ended; known_good_km; unknown_start; estimated
select
    components.component,
    lives.position,
    lives.began_as,
    lives.part_grade,
    vehicles.model,
    vehicles.model_year,
    vehicles.duty,
    vehicles.depot,
    lives.start_km,
    lives.entry_km,
    lives.end_km,
    lives.end_km - lives.start_km as age_km,
    lives.ended,
    lives.known_good_km,
    lives.unknown_start,
    lives.estimated
from lives
inner join components on lives.component_key = components.component_key
inner join vehicles on lives.vehicle_key = vehicles.vehicle_key
where
    (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by lives.component_key, lives.vehicle_key, lives.position, lives.start_km, lives.end_km
