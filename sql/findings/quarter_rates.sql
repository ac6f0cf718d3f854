-- One row is: a vehicle kept and a stretch of 91 days up to its last good reading, wholly between its readings.
-- Reads:      vehicle_record, usage_spans, vehicles
-- Parameters: models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; back (0 is the latest stretch, up to 3); km_per_day (over the stretch)
with numbers as (
    select unnest(generate_series(0, 4)) as back
),

ends as (
    select
        vehicle_record.vehicle_key,
        numbers.back,
        vehicle_record.last_on - cast(numbers.back as integer) * 91 as on_day
    from vehicle_record
    cross join numbers
    where vehicle_record.last_on is not null
),

known as (
    select
        ends.vehicle_key,
        ends.back,
        usage_spans.km + usage_spans.km_per_day * date_diff('day', usage_spans.from_on, ends.on_day) as km
    from ends
    inner join usage_spans
        on ends.vehicle_key = usage_spans.vehicle_key
        and ends.on_day >= usage_spans.from_on
        and (ends.on_day < usage_spans.to_on or usage_spans.to_on is null)
)

select vehicles.vehicle_id, later.back, (later.km - earlier.km) / 91.0 as km_per_day
from known as later
inner join known as earlier on later.vehicle_key = earlier.vehicle_key and later.back + 1 = earlier.back
inner join vehicles on later.vehicle_key = vehicles.vehicle_key
where
    (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by vehicles.vehicle_id, later.back
