-- One row is: a vehicle and a day whose usage is asked for: the ends of its record and its jobs without a good reading.
-- Reads:      jobs, readings, vehicle_record, usage_spans, record
-- Parameters: none
-- Columns:    vehicle_key; on_day (date); km (between readings in proportion to the days; before the first the first; after the last at the recent rate; null for a vehicle without readings)
with asked as (
    select vehicle_key, record_from as on_day from vehicle_record where record_from is not null
    union
    select vehicle_key, record_to as on_day from vehicle_record where record_to is not null
    union
    select jobs.vehicle_key, cast(jobs.opened_at as date) as on_day
    from jobs
    cross join record
    left join readings on jobs.job_key = readings.job_key and readings.good
    where readings.job_key is null and cast(jobs.opened_at as date) <= record.as_of
)

select
    asked.vehicle_key,
    asked.on_day,
    case
        when asked.on_day <= vehicle_record.first_on then vehicle_record.first_km
        else usage_spans.km + usage_spans.km_per_day * date_diff('day', usage_spans.from_on, asked.on_day)
    end as km
from asked
inner join vehicle_record on asked.vehicle_key = vehicle_record.vehicle_key
left join usage_spans
    on asked.vehicle_key = usage_spans.vehicle_key
    and asked.on_day >= usage_spans.from_on
    and (asked.on_day < usage_spans.to_on or usage_spans.to_on is null)
order by asked.vehicle_key, asked.on_day
