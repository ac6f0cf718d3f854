-- One row is: a range of vehicles whose readings are judged together.
-- Reads:      vehicles, jobs, odometer
-- Parameters: most (readings in one range, roughly)
-- Columns:    first_key; last_key
with counted as (
    select vehicle_key, count(*) as readings
    from (
        select vehicle_key from vehicles
        union all
        select vehicle_key from jobs where odometer_km is not null
        union all
        select vehicle_key from odometer
    ) as every
    group by vehicle_key
),

placed as (
    select vehicle_key, sum(readings) over (order by vehicle_key) // $most as part
    from counted
)

select min(vehicle_key) as first_key, max(vehicle_key) as last_key
from placed
group by part
order by first_key
