-- One row is: a vehicle with the days on which the record observes it and its readings' ends.
-- Reads:      vehicles, jobs, usage_days, record
-- Parameters: none
-- Columns:    vehicle_key; record_from (date from which its jobs are complete); record_to (date, the as-of date or the day it left); first_on (date of the first good reading, null without any); first_km (the lowest of that day); last_on; last_km (the highest of that day); km_per_day (recent rate: over the last 90 days of readings, or the next longer span there is; 0 where unknown)
with ends as (
    select
        vehicle_key,
        min(on_day) as first_on,
        min_by(low_km, on_day) as first_km,
        max(on_day) as last_on,
        max_by(km, on_day) as last_km
    from usage_days
    group by vehicle_key
),

bases as (
    select
        usage_days.vehicle_key,
        max(usage_days.on_day) as base_on,
        max_by(usage_days.km, usage_days.on_day) as base_km
    from usage_days
    inner join ends on usage_days.vehicle_key = ends.vehicle_key
    where date_diff('day', usage_days.on_day, ends.last_on) >= 90
    group by usage_days.vehicle_key
),

first_jobs as (
    select vehicle_key, min(cast(opened_at as date)) as first_job_on from jobs group by vehicle_key
)

select
    vehicles.vehicle_key,
    greatest(
        coalesce(vehicles.history_from, vehicles.in_service_on, least(ends.first_on, first_jobs.first_job_on)),
        vehicles.in_service_on
    ) as record_from,
    least(record.as_of, vehicles.left_service_on) as record_to,
    ends.first_on,
    ends.first_km,
    ends.last_on,
    ends.last_km,
    coalesce(
        (ends.last_km - coalesce(bases.base_km, ends.first_km))
        / nullif(cast(date_diff('day', coalesce(bases.base_on, ends.first_on), ends.last_on) as double), 0),
        0
    ) as km_per_day
from vehicles
cross join record
left join ends on vehicles.vehicle_key = ends.vehicle_key
left join bases on vehicles.vehicle_key = bases.vehicle_key
left join first_jobs on vehicles.vehicle_key = first_jobs.vehicle_key
order by vehicles.vehicle_key
