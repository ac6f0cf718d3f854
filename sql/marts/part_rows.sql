-- One row is: an action on a part at a job that is no copy of another; the position tells parts apart where the model carries several.
-- Reads:      effective_actions, visits, vehicles, fitted
-- Parameters: none
-- Columns:    job_key; vehicle_key; visit; component_key; position ('' where it tells nothing apart); action (credit for a returned part and for one credited afterwards); cause; part_number (of several the last by name); part_grade; labour_cost (of the rows, credits netted; null where none is recorded); parts_cost; cost (both)
with single as (
    select model, component_key from fitted where "count" = 1
),

named as (
    select
        effective_actions.job_key,
        visits.vehicle_key,
        visits.visit,
        effective_actions.component_key,
        case when single.component_key is null then effective_actions.position else '' end as position,
        effective_actions.action,
        effective_actions.cause,
        effective_actions.part_number,
        effective_actions.part_grade,
        effective_actions.labour_cost,
        effective_actions.parts_cost,
        case
            when effective_actions.labour_cost is null then effective_actions.parts_cost
            else effective_actions.labour_cost + coalesce(effective_actions.parts_cost, 0)
        end as cost
    from effective_actions
    inner join visits on effective_actions.job_key = visits.job_key
    inner join vehicles on visits.vehicle_key = vehicles.vehicle_key
    left join single on vehicles.model = single.model and effective_actions.component_key = single.component_key
    where visits.copy_of is null
),

-- Nearly every row stands alone. Only the others are gathered: an engine short of memory can't put aside the largest
-- texts of many groups, but it can put aside their rows.
several as (
    select job_key, component_key, position, action
    from named
    group by job_key, component_key, position, action
    having count(*) > 1
),

gathered as (
    select
        named.job_key,
        named.vehicle_key,
        named.visit,
        named.component_key,
        named.position,
        named.action,
        max(named.cause) as cause,
        max(named.part_number) as part_number,
        max(named.part_grade) as part_grade,
        sum(named.labour_cost) as labour_cost,
        sum(named.parts_cost) as parts_cost,
        sum(named.cost) as cost
    from named
    inner join several
        on named.job_key = several.job_key
        and named.component_key = several.component_key
        and named.position = several.position
        and named.action = several.action
    group by named.job_key, named.vehicle_key, named.visit, named.component_key, named.position, named.action
)

select
    named.job_key,
    named.vehicle_key,
    named.visit,
    named.component_key,
    named.position,
    named.action,
    named.cause,
    named.part_number,
    named.part_grade,
    named.labour_cost,
    named.parts_cost,
    named.cost
from named
left join several
    on named.job_key = several.job_key
    and named.component_key = several.component_key
    and named.position = several.position
    and named.action = several.action
where several.job_key is null
union all
select
    job_key,
    vehicle_key,
    visit,
    component_key,
    position,
    action,
    cause,
    part_number,
    part_grade,
    labour_cost,
    parts_cost,
    cost
from gathered
order by vehicle_key, visit, component_key, position, action
