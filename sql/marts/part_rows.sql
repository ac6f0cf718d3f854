-- One row is: an action on a part at a job; the position tells parts apart where the model carries several.
-- Reads:      job_actions, visits, vehicles, fitted
-- Parameters: none
-- Columns:    job_key; vehicle_key; visit; component_key; position ('' where it tells nothing apart); action; cause; part_grade; cost (labour and parts of the rows, null where none is recorded)
with single as (
    select model, component_key from fitted where "count" = 1
)

select
    job_actions.job_key,
    visits.vehicle_key,
    visits.visit,
    job_actions.component_key,
    case when single.component_key is null then coalesce(lower(trim(job_actions.position)), '') else '' end as position,
    cast(job_actions.action as varchar) as action,
    max(nullif(trim(job_actions.cause), '')) as cause,
    max(job_actions.part_grade) as part_grade,
    sum(
        case
            when job_actions.labour_cost is null then job_actions.parts_cost
            else job_actions.labour_cost + coalesce(job_actions.parts_cost, 0)
        end
    ) as cost
from job_actions
inner join visits on job_actions.job_key = visits.job_key
inner join vehicles on visits.vehicle_key = vehicles.vehicle_key
left join single on vehicles.model = single.model and job_actions.component_key = single.component_key
group by
    job_actions.job_key,
    visits.vehicle_key,
    visits.visit,
    job_actions.component_key,
    case when single.component_key is null then coalesce(lower(trim(job_actions.position)), '') else '' end,
    cast(job_actions.action as varchar)
order by visits.vehicle_key, visits.visit, job_actions.component_key, position, action
