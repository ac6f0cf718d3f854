-- One row is: all observed jobs of the vehicles kept that say no reason; they count as no fault job.
-- Reads:      visits, jobs, vehicles
-- Parameters: models, duties, depots (lists of text, null keeps all)
-- Columns:    jobs (count)
select count(*) as jobs
from visits
inner join jobs on visits.job_key = jobs.job_key
inner join vehicles on visits.vehicle_key = vehicles.vehicle_key
where
    jobs.reason is null
    and visits.observed
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
