-- One row is: all jobs of the vehicles kept.
-- Reads:      visits, vehicles
-- Parameters: models, duties, depots (lists of text, null keeps all)
-- Columns:    jobs (observed); fault_jobs (observed); outside (before the vehicle's complete record or after it left: counted in no rate); copies (repeat another job: counted in no figure)
select
    count(*) filter (where visits.observed) as jobs,
    count(*) filter (where visits.observed and visits.fault_job) as fault_jobs,
    count(*) filter (where not visits.observed and visits.copy_of is null) as outside,
    count(*) filter (where visits.copy_of is not null) as copies
from visits
inner join vehicles on visits.vehicle_key = vehicles.vehicle_key
where
    (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
