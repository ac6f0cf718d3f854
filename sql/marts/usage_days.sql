-- One row is: a day of a vehicle on which a good odometer reading stands, with the next such day.
-- Reads:      readings, record
-- Parameters: none
-- Columns:    vehicle_key; on_day (date); km (the highest good reading of the day); low_km (the lowest); next_on (date, null on the last day); next_km
with daily as (
    select
        readings.vehicle_key,
        cast(readings.read_at as date) as on_day,
        max(readings.km) as km,
        min(readings.km) as low_km
    from readings
    cross join record
    where readings.good and cast(readings.read_at as date) <= record.as_of
    group by readings.vehicle_key, cast(readings.read_at as date)
)

select
    vehicle_key,
    on_day,
    km,
    low_km,
    lead(on_day) over (partition by vehicle_key order by on_day) as next_on,
    lead(km) over (partition by vehicle_key order by on_day) as next_km
from daily
order by vehicle_key, on_day
