-- One row is: all odometer readings of the vehicles kept.
-- Reads:      readings, vehicles
-- Parameters: models, duties, depots (lists of text, null keeps all)
-- Columns:    readings (count); used (count); set_aside (count); vehicles (count of vehicles with one set aside); unit (count of those set aside); tenths; filler; typo; unsettled; corrected (count of those used); run_on (count of vehicles whose odometer starts anew)
select
    count(*) as readings,
    count(*) filter (where readings.good) as used,
    count(*) filter (where not readings.good) as set_aside,
    count(distinct case when not readings.good then readings.vehicle_key end) as vehicles,
    count(*) filter (where readings.kind = 'unit') as unit,
    count(*) filter (where readings.kind = 'tenths') as tenths,
    count(*) filter (where readings.kind = 'filler') as filler,
    count(*) filter (where readings.kind = 'typo') as typo,
    count(*) filter (where readings.kind = 'unsettled') as unsettled,
    count(*) filter (where readings.kind = 'corrected') as corrected,
    count(distinct case when readings.kind = 'runs on' then readings.vehicle_key end) as run_on
from readings
inner join vehicles on readings.vehicle_key = vehicles.vehicle_key
where
    (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
