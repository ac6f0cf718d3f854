-- One row is: an episode of a code on a vehicle kept, with the job at which it began.
-- Reads:      code_events, codes, vehicles, visits, jobs, part_rows, components
-- Parameters: names (codes, list of text, null keeps all); models, duties, depots, components (lists of text, null keeps all; components keeps the jobs that acted on one)
-- Columns:    job_id (the first kept job of the episode); vehicle_id; opened_on (date); code; episode; jobs (kept jobs of the episode); odometer_km; reason; model; duty; depot
with named as (
    select distinct part_rows.job_key
    from part_rows
    inner join components on part_rows.component_key = components.component_key
    where list_contains($components, components.component)
),

episodes as (
    select
        code_events.code_key,
        code_events.vehicle_key,
        code_events.episode,
        min(code_events.visit) as visit,
        count(*) as jobs
    from code_events
    left join named on code_events.job_key = named.job_key
    where cast($components as varchar[]) is null or named.job_key is not null
    group by code_events.code_key, code_events.vehicle_key, code_events.episode
)

select
    jobs.job_id,
    vehicles.vehicle_id,
    visits.opened_on,
    codes.code,
    episodes.episode,
    episodes.jobs,
    visits.km as odometer_km,
    cast(jobs.reason as varchar) as reason,
    vehicles.model,
    vehicles.duty,
    vehicles.depot
from episodes
inner join codes on episodes.code_key = codes.code_key
inner join vehicles on episodes.vehicle_key = vehicles.vehicle_key
inner join visits on episodes.vehicle_key = visits.vehicle_key and episodes.visit = visits.visit
inner join jobs on visits.job_key = jobs.job_key
where
    (cast($names as varchar[]) is null or list_contains($names, codes.code))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by visits.opened_on, vehicles.vehicle_id, jobs.job_id, codes.code
