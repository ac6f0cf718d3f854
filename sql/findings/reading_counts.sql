-- One row is: all odometer readings.
-- Reads:      readings
-- Parameters: none
-- Columns:    readings (count); set_aside (count); vehicles (count of vehicles with one set aside)
select
    count(*) as readings,
    count(*) filter (where not good) as set_aside,
    count(distinct case when good then null else vehicle_key end) as vehicles
from readings
