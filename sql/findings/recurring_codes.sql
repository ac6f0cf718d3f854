-- One row is: a code, over the vehicles kept.
-- Reads:      code_events, codes, vehicles, part_rows, components
-- Parameters: models, duties, depots, components (lists of text, null keeps all; components keeps the jobs that acted on one)
-- Columns:    code; events (count); episodes (count); vehicles (count)
with named as (
    select distinct part_rows.job_key
    from part_rows
    inner join components on part_rows.component_key = components.component_key
    where list_contains($components, components.component)
),

kept as (
    select code_events.*
    from code_events
    inner join vehicles on code_events.vehicle_key = vehicles.vehicle_key
    left join named on code_events.job_key = named.job_key
    where
        (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
        and (cast($components as varchar[]) is null or named.job_key is not null)
),

episodes as (
    select code_key, vehicle_key, episode, count(*) as events
    from kept
    group by code_key, vehicle_key, episode
)

select
    codes.code,
    cast(sum(episodes.events) as bigint) as events,
    count(*) as episodes,
    count(distinct episodes.vehicle_key) as vehicles
from episodes
inner join codes on episodes.code_key = codes.code_key
group by codes.code
order by episodes desc, vehicles desc, codes.code
