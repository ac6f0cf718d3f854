-- One row is: a job of this load whose vehicle is in the store.
-- Reads:      staged_jobs, vehicles
-- Parameters: none
-- Columns:    place; known; job_id; vehicle_key; opened_at; closed_at; odometer_km (km); reason; complaint; workshop; technician; downtime_h (h)
select
    staged_jobs.place,
    staged_jobs.known,
    staged_jobs.job_id,
    vehicles.vehicle_key,
    staged_jobs.opened_at,
    staged_jobs.closed_at,
    staged_jobs.odometer_km,
    cast(staged_jobs.reason as job_reason) as reason,
    staged_jobs.complaint,
    staged_jobs.workshop,
    staged_jobs.technician,
    staged_jobs.downtime_h
from staged_jobs
inner join vehicles on staged_jobs.vehicle_id = vehicles.vehicle_id
