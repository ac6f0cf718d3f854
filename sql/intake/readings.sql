-- One row is: an odometer reading of any source, not yet judged, of the vehicles in a range of keys.
-- Reads:      vehicles, jobs, odometer
-- Parameters: first_key, last_key (both included)
-- Columns:    vehicle_key; read_at; km; source; job_key
with every as (
    -- A blank in_service_km is taken as 0, as the Data Package says; a second-hand vehicle's is then set aside as too fast.
    select
        vehicle_key,
        cast(in_service_on as timestamp) as read_at,
        coalesce(in_service_km, 0.0) as km,
        'in service' as source,
        cast(null as integer) as job_key
    from vehicles
    where in_service_on is not null
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
where vehicle_key between $first_key and $last_key
order by vehicle_key, read_at, km, source, job_key
