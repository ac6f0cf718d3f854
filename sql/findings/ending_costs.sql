-- One row is: the end of a part's life on a vehicle kept, with what it cost.
-- Reads:      part_endings, part_rows, job_actions, action_rules, components, vehicles, jobs
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; began_as (kind of the life it started, null where none); ended; cost (labour and parts of the component's rows, null where none is recorded); hours (labour on the component's repairing rows, shared among its parts that ended in the job; null where none is recorded); part_cost (parts on those rows, shared likewise); job_cost (of all rows of the job); downtime_h (of the job, null where not recorded); broke_down (it came in as a breakdown)
with chosen as (
    select component_key
    from components
    where cast($components as varchar[]) is null or list_contains($components, component)
),

ended_jobs as (
    select distinct job_key from part_endings where component_key in (select component_key from chosen)
),

totals as (
    select job_key, sum(cost) as job_cost
    from part_rows
    where job_key in (select job_key from ended_jobs)
    group by job_key
),

ended_parts as (
    select job_key, component_key, count(*) as parts from part_endings group by job_key, component_key
),

labour as (
    select
        job_actions.job_key,
        job_actions.component_key,
        sum(job_actions.labour_h) filter (where job_actions.labour_h > 0) as labour_h,
        sum(job_actions.parts_cost) filter (where job_actions.parts_cost > 0) as parts_cost
    from job_actions
    inner join action_rules on cast(job_actions.action as varchar) = action_rules.action
    where action_rules.repairing and job_actions.component_key in (select component_key from chosen)
    group by job_actions.job_key, job_actions.component_key
)

select
    components.component,
    part_endings.began_as,
    part_endings.ended,
    part_endings.cost,
    labour.labour_h / ended_parts.parts as hours,
    labour.parts_cost / ended_parts.parts as part_cost,
    totals.job_cost,
    jobs.downtime_h,
    coalesce(cast(jobs.reason as varchar) = 'breakdown', false) as broke_down
from part_endings
inner join components on part_endings.component_key = components.component_key
inner join vehicles on part_endings.vehicle_key = vehicles.vehicle_key
inner join jobs on part_endings.job_key = jobs.job_key
inner join ended_parts
    on part_endings.job_key = ended_parts.job_key and part_endings.component_key = ended_parts.component_key
left join labour
    on part_endings.job_key = labour.job_key and part_endings.component_key = labour.component_key
left join totals on part_endings.job_key = totals.job_key
where
    part_endings.component_key in (select component_key from chosen)
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by components.component, vehicles.vehicle_id, part_endings.visit, part_endings.position
