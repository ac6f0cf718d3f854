-- One row is: two codes logged at one visit of a vehicle kept, a code by itself (twice the same), or all visits (both null).
-- Reads:      visits, vehicles, code_events, codes, part_rows, components
-- Parameters: join_days (whole number: jobs of a vehicle that follow each other within so many days are one visit; below 0 each job is its own); supply_codes (list of text: codes that tell of a fault in the voltage supply); models, duties, depots, components (lists of text, null keeps all; components keeps the jobs that acted on one)
-- Columns:    first_code; second_code (in the order of the alphabet); visits (for a fault or with a code; count); plain_visits (of them without a code of the voltage supply)
with named as (
    select distinct part_rows.job_key
    from part_rows
    inner join components on part_rows.component_key = components.component_key
    where list_contains($components, components.component)
),

logged as (
    select distinct job_key from code_events
),

-- Jobs for a fault, and others at which a code was read: there somebody looked for codes.
looked as (
    select
        visits.job_key,
        visits.vehicle_key,
        visits.visit,
        date_diff(
            'day',
            lag(visits.opened_on) over (partition by visits.vehicle_key order by visits.visit),
            visits.opened_on
        ) as days_since
    from visits
    inner join vehicles on visits.vehicle_key = vehicles.vehicle_key
    left join logged on visits.job_key = logged.job_key
    left join named on visits.job_key = named.job_key
    where
        visits.observed
        and (visits.fault_job or logged.job_key is not null)
        and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
        and (cast($components as varchar[]) is null or named.job_key is not null)
),

joined as (
    select
        job_key,
        vehicle_key,
        sum(case when days_since <= $join_days then 0 else 1 end) over (
            partition by vehicle_key order by visit rows between unbounded preceding and current row
        ) as place
    from looked
),

read_at as (
    select distinct
        joined.vehicle_key,
        joined.place,
        codes.code,
        list_contains($supply_codes, codes.code) as supply
    from joined
    inner join code_events on joined.job_key = code_events.job_key
    inner join codes on code_events.code_key = codes.code_key
),

disturbed as (
    select distinct vehicle_key, place from read_at where supply
),

every as (
    select
        read_at.vehicle_key,
        read_at.place,
        read_at.code,
        disturbed.place is null as plain
    from read_at
    left join disturbed on read_at.vehicle_key = disturbed.vehicle_key and read_at.place = disturbed.place
),

places as (
    select distinct vehicle_key, place from joined
)

select
    every.code as first_code,
    other.code as second_code,
    count(*) as visits,
    count(*) filter (where every.plain) as plain_visits
from every
inner join every as other
    on every.vehicle_key = other.vehicle_key and every.place = other.place and every.code <= other.code
group by every.code, other.code
union all
select
    cast(null as varchar) as first_code,
    cast(null as varchar) as second_code,
    count(*) as visits,
    count(*) filter (where disturbed.place is null) as plain_visits
from places
left join disturbed on places.vehicle_key = disturbed.vehicle_key and places.place = disturbed.place
order by first_code, second_code
