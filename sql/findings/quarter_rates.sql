-- One row is: a vehicle kept and a stretch of 91 days up to its last good reading, wholly between its readings.
-- Reads:      vehicle_record, usage_days, vehicles
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
        case
            when usage_days.next_on is null then usage_days.km
            else
                usage_days.km
                + (usage_days.next_km - usage_days.km)
                * date_diff('day', usage_days.on_day, ends.on_day)
                / cast(date_diff('day', usage_days.on_day, usage_days.next_on) as double)
        end as km
    from ends
    inner join usage_days
        on ends.vehicle_key = usage_days.vehicle_key
        and ends.on_day >= usage_days.on_day
        and (ends.on_day < usage_days.next_on or (usage_days.next_on is null and ends.on_day = usage_days.on_day))
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
