-- One row is: a vehicle with the distance it ran under observation.
-- Reads:      vehicle_record, usage_at
-- Parameters: none
-- Columns:    vehicle_key; from_km (odometer at record_from, null without readings); to_km (odometer at record_to); km (between them, never below 0); carried_km (the part of km beyond the last reading, at the recent rate)
select
    vehicle_record.vehicle_key,
    starts.km as from_km,
    ends.km as to_km,
    case when ends.km >= starts.km then ends.km - starts.km when ends.km < starts.km then 0.0 end as km,
    case
        when vehicle_record.record_to > vehicle_record.last_on
            then greatest(ends.km - greatest(starts.km, vehicle_record.last_km), 0.0)
        else 0.0
    end as carried_km
from vehicle_record
left join usage_at as starts
    on vehicle_record.vehicle_key = starts.vehicle_key and vehicle_record.record_from = starts.on_day
left join usage_at as ends
    on vehicle_record.vehicle_key = ends.vehicle_key and vehicle_record.record_to = ends.on_day
order by vehicle_record.vehicle_key
