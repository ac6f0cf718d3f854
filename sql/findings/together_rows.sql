-- One row is: a job of a visit at which codes were logged together, on a vehicle kept.
-- Reads:      visits, vehicles, jobs, code_events, codes, part_rows, components
-- Parameters: join_days (whole number: jobs of a vehicle that follow each other within so many days are one visit; below 0 each job is its own); names (codes, list of text, null for any); needed (whole number: how many of them a visit must hold); models, duties, depots, components (lists of text, null keeps all; components keeps the jobs that acted on one)
-- Columns:    job_id; vehicle_id; opened_on (date); codes (all that the job logs, joined by commas); odometer_km; reason
with named as (
    select distinct part_rows.job_key
    from part_rows
    inner join components on part_rows.component_key = components.component_key
    where list_contains($components, components.component)
),

logged as (
    select distinct job_key from code_events
),

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

holding as (
    select joined.vehicle_key, joined.place
    from joined
    inner join code_events on joined.job_key = code_events.job_key
    inner join codes on code_events.code_key = codes.code_key
    where cast($names as varchar[]) is null or list_contains($names, codes.code)
    group by joined.vehicle_key, joined.place
    having count(distinct codes.code) >= $needed
)

select
    jobs.job_id,
    vehicles.vehicle_id,
    visits.opened_on,
    string_agg(codes.code, ', ' order by codes.code) as codes,
    visits.km as odometer_km,
    cast(jobs.reason as varchar) as reason
from holding
inner join joined on holding.vehicle_key = joined.vehicle_key and holding.place = joined.place
inner join visits on joined.job_key = visits.job_key
inner join jobs on joined.job_key = jobs.job_key
inner join vehicles on joined.vehicle_key = vehicles.vehicle_key
inner join code_events on joined.job_key = code_events.job_key
inner join codes on code_events.code_key = codes.code_key
group by jobs.job_id, vehicles.vehicle_id, visits.opened_on, visits.km, jobs.reason
having
    count(*) filter (where cast($names as varchar[]) is null or list_contains($names, codes.code)) > 0
order by vehicles.vehicle_id, visits.opened_on, jobs.job_id
