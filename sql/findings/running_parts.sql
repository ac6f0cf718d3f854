-- One row is: a part running at the end of the record on a vehicle kept that is still in service.
-- Reads:      lives, components, vehicles, vehicle_record, visits, jobs, job_actions
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; registration; component; position; began_as; part_grade; model; model_year; duty; depot; start_km; now_km (usage at the end of the record, null where unknown); unknown_start; cleanings (how often it was cleaned since it was new); record_to (date, the end of the record); last_on (date of the last good reading, null without any); last_km; km_per_day; service_on (date of the last scheduled job, null without one); service_km; advised_on (date of the last job since its life began that advised, quoted, declined or deferred work on it, null without one); began_job_id (null for the part that came with the vehicle)
with renewed as (
    select
        vehicle_key,
        component_key,
        position,
        max(start_km) filter (where began_as <> 'cleaned') as whole_km
    from lives
    group by vehicle_key, component_key, position
),

cleaned as (
    select
        lives.vehicle_key,
        lives.component_key,
        lives.position,
        count(*) filter (where lives.began_as = 'cleaned' and lives.start_km >= coalesce(renewed.whole_km, 0)) as cleanings
    from lives
    inner join renewed
        on lives.vehicle_key = renewed.vehicle_key
        and lives.component_key = renewed.component_key
        and lives.position = renewed.position
    group by lives.vehicle_key, lives.component_key, lives.position
),

services as (
    select visits.vehicle_key, max(visits.opened_on) as service_on, max(visits.km) as service_km
    from visits
    inner join jobs on visits.job_key = jobs.job_key
    where cast(jobs.reason as varchar) = 'scheduled'
    group by visits.vehicle_key
),

advised as (
    select visits.vehicle_key, job_actions.component_key, visits.opened_on, visits.km
    from job_actions
    inner join visits on job_actions.job_key = visits.job_key
    where cast(job_actions.action as varchar) in ('advise', 'quote', 'decline', 'defer')
),

open_advice as (
    select lives.vehicle_key, lives.component_key, lives.position, max(advised.opened_on) as advised_on
    from lives
    inner join advised
        on lives.vehicle_key = advised.vehicle_key
        and lives.component_key = advised.component_key
        and advised.km >= lives.start_km
    where lives.ended = 'record ends'
    group by lives.vehicle_key, lives.component_key, lives.position
)

select
    vehicles.vehicle_id,
    vehicles.registration,
    components.component,
    lives.position,
    lives.began_as,
    lives.part_grade,
    vehicles.model,
    vehicles.model_year,
    vehicles.duty,
    vehicles.depot,
    lives.start_km,
    lives.end_km as now_km,
    lives.unknown_start,
    cleaned.cleanings,
    vehicle_record.record_to,
    vehicle_record.last_on,
    vehicle_record.last_km,
    vehicle_record.km_per_day,
    services.service_on,
    services.service_km,
    open_advice.advised_on,
    began.job_id as began_job_id
from lives
inner join components on lives.component_key = components.component_key
inner join vehicles on lives.vehicle_key = vehicles.vehicle_key
inner join vehicle_record on lives.vehicle_key = vehicle_record.vehicle_key
inner join cleaned
    on lives.vehicle_key = cleaned.vehicle_key
    and lives.component_key = cleaned.component_key
    and lives.position = cleaned.position
left join services on lives.vehicle_key = services.vehicle_key
left join open_advice
    on lives.vehicle_key = open_advice.vehicle_key
    and lives.component_key = open_advice.component_key
    and lives.position = open_advice.position
left join jobs as began on lives.began_job_key = began.job_key
where
    lives.ended = 'record ends'
    and (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by vehicles.vehicle_id, components.component, lives.position
