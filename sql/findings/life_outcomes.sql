-- One row is: a life of a part on a vehicle kept that was running at the end of a given day, with how it went on.
-- Reads:      lives, components, vehicles, jobs, vehicle_record, usage_spans
-- Parameters: since, until (dates; how it went on is told up to `until`); components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; component; position; began_job_id (null for the part that came with the vehicle); started_on (date of the job that began it, null for that part); ended (as lives has it; null where it still ran at `until`); ended_on (date); ended_km; until_km (usage of the vehicle on `until` or when it left, null where unknown); until_on (that date)
with asked as (
    select vehicle_key, least(record_to, cast($until as date)) as on_day from vehicle_record
),

usage as (
    select
        asked.vehicle_key,
        asked.on_day,
        case
            when asked.on_day <= vehicle_record.first_on then vehicle_record.first_km
            else usage_spans.km + usage_spans.km_per_day * date_diff('day', usage_spans.from_on, asked.on_day)
        end as km
    from asked
    inner join vehicle_record on asked.vehicle_key = vehicle_record.vehicle_key
    left join usage_spans
        on asked.vehicle_key = usage_spans.vehicle_key
        and asked.on_day >= usage_spans.from_on
        and (asked.on_day < usage_spans.to_on or usage_spans.to_on is null)
),

dated as (
    select
        lives.*,
        began.job_id as began_job_id,
        cast(began.opened_at as date) as started_on,
        cast(ends.opened_at as date) as end_on
    from lives
    left join jobs as began on lives.began_job_key = began.job_key
    left join jobs as ends on lives.end_job_key = ends.job_key
)

select
    vehicles.vehicle_id,
    components.component,
    dated.position,
    dated.began_job_id,
    dated.started_on,
    case when dated.end_on <= cast($until as date) then dated.ended end as ended,
    case when dated.end_on <= cast($until as date) then dated.end_on end as ended_on,
    case when dated.end_on <= cast($until as date) then dated.end_km end as ended_km,
    usage.km as until_km,
    usage.on_day as until_on
from dated
inner join components on dated.component_key = components.component_key
inner join vehicles on dated.vehicle_key = vehicles.vehicle_key
inner join usage on dated.vehicle_key = usage.vehicle_key
where
    (dated.started_on is null or dated.started_on <= cast($since as date))
    and (dated.end_on is null or dated.end_on > cast($since as date))
    and (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by vehicles.vehicle_id, components.component, dated.position, dated.began_job_id
