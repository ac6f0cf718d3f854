-- One row is: a confirmed failure of a part that its vehicle carries; at most one for each job and part.
-- Reads:      part_endings, parts, visits
-- Parameters: none
-- Columns:    vehicle_key; component_key; position; visit; job_key; opened_on (date); km (odometer, null where unknown); found (on the road or at an inspection); observed (whether the job lies in the vehicle's record)
select
    part_endings.vehicle_key,
    part_endings.component_key,
    part_endings.position,
    part_endings.visit,
    part_endings.job_key,
    visits.opened_on,
    part_endings.km,
    part_endings.found,
    visits.observed
from part_endings
inner join parts
    on part_endings.vehicle_key = parts.vehicle_key
    and part_endings.component_key = parts.component_key
    and part_endings.position = parts.position
inner join visits on part_endings.job_key = visits.job_key
where part_endings.ended = 'failed'
order by part_endings.component_key, part_endings.vehicle_key, part_endings.visit, part_endings.position
