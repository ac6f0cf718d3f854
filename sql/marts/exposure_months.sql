-- One row is: a calendar month and a model, duty and depot, with the distance that its vehicles ran under observation.
-- Reads:      vehicles, vehicle_record, usage_spans, usage_days
-- Parameters: none
-- Columns:    month (date, its first day); model; duty; depot; km; carried_km (the part of km beyond the last readings, at the recent rate)
with stretches as (
    -- Within a stretch the distance is spread evenly over the days.
    select
        usage_spans.vehicle_key,
        greatest(usage_spans.from_on, vehicle_record.record_from) as from_on,
        least(usage_spans.to_on, vehicle_record.record_to) as to_on,
        usage_spans.km_per_day,
        usage_spans.to_on is null as carried
    from usage_spans
    inner join vehicle_record on usage_spans.vehicle_key = vehicle_record.vehicle_key
    where
        (usage_spans.to_on > vehicle_record.record_from or usage_spans.to_on is null)
        and usage_spans.from_on < vehicle_record.record_to
    union all
    -- The first day of readings may hold several: what lies between them was driven on that day.
    select
        usage_days.vehicle_key,
        usage_days.on_day as from_on,
        cast(usage_days.on_day + interval 1 day as date) as to_on,
        usage_days.km - usage_days.low_km as km_per_day,
        false as carried
    from usage_days
    inner join vehicle_record
        on usage_days.vehicle_key = vehicle_record.vehicle_key and usage_days.on_day = vehicle_record.first_on
    where
        usage_days.km > usage_days.low_km
        and vehicle_record.record_from <= usage_days.on_day
        and vehicle_record.record_to > usage_days.on_day
),

-- Months are numbered from the year 0. A stretch ends before its last day, which may be the first of a month.
numbered as (
    select
        *,
        year(from_on) * 12 + month(from_on) - 1 as first_month,
        year(to_on) * 12 + month(to_on) - 1 - case when day(to_on) = 1 then 1 else 0 end as last_month
    from stretches
    where to_on > from_on
),

split as (
    select *, unnest(generate_series(first_month, last_month)) as at_month from numbered
),

placed as (
    select
        vehicle_key,
        make_date(at_month // 12, at_month % 12 + 1, 1) as month,
        carried,
        km_per_day * date_diff(
            'day',
            case when at_month = first_month then from_on else make_date(at_month // 12, at_month % 12 + 1, 1) end,
            case
                when at_month = last_month then to_on
                else make_date((at_month + 1) // 12, (at_month + 1) % 12 + 1, 1)
            end
        ) as km
    from split
)

select
    placed.month,
    vehicles.model,
    vehicles.duty,
    vehicles.depot,
    sum(placed.km) as km,
    coalesce(sum(placed.km) filter (where placed.carried), 0.0) as carried_km
from placed
inner join vehicles on placed.vehicle_key = vehicles.vehicle_key
group by placed.month, vehicles.model, vehicles.duty, vehicles.depot
order by placed.month, vehicles.model, vehicles.duty, vehicles.depot
