-- One row is: an odometer reading of any source, not yet judged.
-- Reads:      vehicles, jobs, odometer
-- Parameters: none
-- Columns:    vehicle_key; read_at; km; source; job_key
with every as (
    select vehicle_key, cast(in_service_on as timestamp) as read_at, in_service_km as km, 'in service' as source, cast(null as integer) as job_key
    from vehicles
    where in_service_on is not null and in_service_km is not null
    union all
    select vehicle_key, opened_at, odometer_km, 'job', job_key
    from jobs
    where odometer_km is not null
    union all
    select vehicle_key, read_at, odometer_km, coalesce(source, 'odometer'), null
    from odometer
)
select vehicle_key, read_at, km, source, job_key
from every
order by vehicle_key, read_at, km, source, job_key
