-- One row is: an action on a part at a job that is no copy of another; the position tells parts apart where the model carries several.
-- Reads:      job_actions, visits, vehicles, fitted, credited_parts
-- Parameters: none
-- Columns:    job_key; vehicle_key; visit; component_key; position ('' where it tells nothing apart); action (credit for a returned part and for one credited afterwards); cause; part_grade; cost (labour and parts of the rows, null where none is recorded)
with single as (
    select model, component_key from fitted where "count" = 1
),

named as (
    select
        job_actions.job_key,
        visits.vehicle_key,
        visits.visit,
        job_actions.component_key,
        case
            when single.component_key is null then coalesce(lower(trim(job_actions.position)), '') else ''
        end as position,
        case
            when job_actions.quantity < 0 or credited_parts.job_key is not null then 'credit'
            else cast(job_actions.action as varchar)
        end as action,
        nullif(trim(job_actions.cause), '') as cause,
        job_actions.part_grade,
        case
            when job_actions.labour_cost is null then job_actions.parts_cost
            else job_actions.labour_cost + coalesce(job_actions.parts_cost, 0)
        end as cost
    from job_actions
    inner join visits on job_actions.job_key = visits.job_key
    inner join vehicles on visits.vehicle_key = vehicles.vehicle_key
    left join single on vehicles.model = single.model and job_actions.component_key = single.component_key
    left join credited_parts
        on job_actions.job_key = credited_parts.job_key
        and job_actions.component_key = credited_parts.component_key
        and coalesce(lower(trim(job_actions.position)), '') = credited_parts.position
        and cast(job_actions.action as varchar) = 'replace'
    where visits.copy_of is null
)

select
    job_key,
    vehicle_key,
    visit,
    component_key,
    position,
    action,
    max(cause) as cause,
    max(part_grade) as part_grade,
    sum(cost) as cost
from named
group by job_key, vehicle_key, visit, component_key, position, action
order by vehicle_key, visit, component_key, position, action
