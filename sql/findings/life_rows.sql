-- One row is: a life of a part on a vehicle kept.
-- Reads:      lives, components, vehicles, jobs
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; component; position; began_as; part_grade; model; model_year; duty; depot; start_km; entry_km; end_km; age_km; ended; found; known_good_km; unknown_start; estimated; began_job_id; end_job_id
select
    vehicles.vehicle_id,
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
    lives.found,
    lives.known_good_km,
    lives.unknown_start,
    lives.estimated,
    began.job_id as began_job_id,
    ends.job_id as end_job_id
from lives
inner join components on lives.component_key = components.component_key
inner join vehicles on lives.vehicle_key = vehicles.vehicle_key
left join jobs as began on lives.began_job_key = began.job_key
left join jobs as ends on lives.end_job_key = ends.job_key
where
    (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by components.component, vehicles.vehicle_id, lives.position, lives.start_km, ends.job_id nulls last, began.job_id
