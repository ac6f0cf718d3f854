-- One row is: an odometer reading that contradicts the ones around it.
-- Reads:      readings, vehicles, jobs
-- Parameters: none
-- Columns:    vehicle_id; read_on (date); km; source; job_id (null where no job holds it); why
select
    vehicles.vehicle_id,
    cast(readings.read_at as date) as read_on,
    readings.km,
    readings.source,
    jobs.job_id,
    readings.why
from readings
inner join vehicles on readings.vehicle_key = vehicles.vehicle_key
left join jobs on readings.job_key = jobs.job_key
where not readings.good
order by vehicles.vehicle_id, readings.read_at, readings.km, readings.source, jobs.job_id
