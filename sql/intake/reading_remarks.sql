-- One row is: all odometer readings.
-- Reads:      readings
-- Parameters: none
-- Columns:    set_aside (count); proposed (count of those set aside that have a proposed distance); corrected (count); run_on (count of vehicles with more than one segment)
select
    count(*) filter (where not good) as set_aside,
    count(*) filter (where not good and proposed_km is not null) as proposed,
    count(*) filter (where kind = 'corrected') as corrected,
    count(distinct case when kind = 'runs on' then vehicle_key end) as run_on
from readings
