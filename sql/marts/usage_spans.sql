-- One row is: a stretch of a vehicle's usage that begins with a day of good readings, driven at one distance a day.
-- Reads:      usage_days, vehicle_record
-- Parameters: none
-- Columns:    vehicle_key; from_on (date); to_on (date of the next such day, null on the last stretch); km (at from_on); km_per_day (between the readings in proportion to the days; on the last stretch the recent rate)
select
    usage_days.vehicle_key,
    usage_days.on_day as from_on,
    usage_days.next_on as to_on,
    usage_days.km,
    case
        when usage_days.next_on is null then vehicle_record.km_per_day
        else
            (usage_days.next_km - usage_days.km)
            / cast(date_diff('day', usage_days.on_day, usage_days.next_on) as double)
    end as km_per_day
from usage_days
inner join vehicle_record on usage_days.vehicle_key = vehicle_record.vehicle_key
order by usage_days.vehicle_key, usage_days.on_day
