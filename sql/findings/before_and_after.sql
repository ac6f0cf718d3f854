-- One row is: a vehicle kept that carries a component kept, with its distance before and after a day.
-- Reads:      vehicles, vehicle_record, parts, components, usage_days
-- Parameters: treated (list of text: the day, the first and the last day to look at, and the vehicle, with a blank between); common_on, common_from, common_to (dates for all others); components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; model; duty; depot; treated; split_on (date); from_on (first day looked at, in its record); to_on (last day looked at, in its record); km_before (from from_on to split_on; null without readings or where split_on lies outside its record); km_after
with named as (
    select unnest($treated) as told
),

own as (
    select
        substr(told, 34) as vehicle_id,
        cast(substr(told, 1, 10) as date) as split_on,
        cast(substr(told, 12, 10) as date) as from_on,
        cast(substr(told, 23, 10) as date) as to_on
    from named
),

carrying as (
    select distinct parts.vehicle_key
    from parts
    inner join components on parts.component_key = components.component_key
    where (cast($components as varchar[]) is null or list_contains($components, components.component))
),

kept as (
    select
        vehicles.vehicle_key,
        vehicles.vehicle_id,
        vehicles.model,
        vehicles.duty,
        vehicles.depot,
        own.vehicle_id is not null as treated,
        coalesce(own.split_on, cast($common_on as date)) as split_on,
        greatest(coalesce(own.from_on, cast($common_from as date)), vehicle_record.record_from) as from_on,
        least(coalesce(own.to_on, cast($common_to as date)), vehicle_record.record_to) as to_on,
        vehicle_record.first_on,
        vehicle_record.first_km,
        vehicle_record.last_on,
        vehicle_record.last_km,
        vehicle_record.km_per_day
    from vehicles
    inner join vehicle_record on vehicles.vehicle_key = vehicle_record.vehicle_key
    inner join carrying on vehicles.vehicle_key = carrying.vehicle_key
    left join own on vehicles.vehicle_id = own.vehicle_id
    where
        (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
),

asked as (
    select vehicle_key, split_on as on_day from kept
    union
    select vehicle_key, from_on as on_day from kept
    union
    select vehicle_key, to_on as on_day from kept
),

-- The odometer on each of the days, as in the mart usage_at.
read as (
    select
        asked.vehicle_key,
        asked.on_day,
        case
            when asked.on_day <= kept.first_on then kept.first_km
            when asked.on_day >= kept.last_on
                then kept.last_km + kept.km_per_day * date_diff('day', kept.last_on, asked.on_day)
            else
                usage_days.km
                + (usage_days.next_km - usage_days.km)
                * date_diff('day', usage_days.on_day, asked.on_day)
                / cast(date_diff('day', usage_days.on_day, usage_days.next_on) as double)
        end as km
    from asked
    inner join kept on asked.vehicle_key = kept.vehicle_key
    left join usage_days
        on asked.vehicle_key = usage_days.vehicle_key
        and asked.on_day >= usage_days.on_day
        and asked.on_day < usage_days.next_on
)

select
    kept.vehicle_id,
    kept.model,
    kept.duty,
    kept.depot,
    kept.treated,
    kept.split_on,
    kept.from_on,
    kept.to_on,
    case when kept.split_on between kept.from_on and kept.to_on then greatest(middles.km - starts.km, 0.0) end as km_before,
    case when kept.split_on between kept.from_on and kept.to_on then greatest(ends.km - middles.km, 0.0) end as km_after
from kept
left join read as starts on kept.vehicle_key = starts.vehicle_key and kept.from_on = starts.on_day
left join read as middles on kept.vehicle_key = middles.vehicle_key and kept.split_on = middles.on_day
left join read as ends on kept.vehicle_key = ends.vehicle_key and kept.to_on = ends.on_day
order by kept.vehicle_id
