-- One row is: an observed fault job that logged one of the codes, with a cause confirmed at it; a job without one has one row, of nulls.
-- Reads:      code_events, codes, visits, vehicles, jobs, job_actions, effective_actions, components, repairs
-- Parameters: codes (list of text); models, duties, depots (lists of text, null keeps all)
-- Columns:    job_id; vehicle_id; model; opened_on (date); odometer_km (null where unknown); codes (those asked for that the job logged); component; cause (in lower case); remedy (the strongest repairing action on the component, null where none); labour_h (of the whole job, null where none is recorded); cost (labour and parts of the whole job, credits netted, null where none is recorded); downtime_h
with logged as (
    select
        code_events.job_key,
        string_agg(distinct codes.code, ', ' order by codes.code) as codes
    from code_events
    inner join codes on code_events.code_key = codes.code_key
    inner join vehicles on code_events.vehicle_key = vehicles.vehicle_key
    where
        code_events.fault_job
        and list_contains($codes, codes.code)
        and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
    group by code_events.job_key
),

-- Words for work that wasn't done, and returned parts, confirm nothing.
causes as (
    select distinct
        effective_actions.job_key,
        effective_actions.component_key,
        components.component,
        lower(effective_actions.cause) as cause
    from effective_actions
    inner join logged on effective_actions.job_key = logged.job_key
    inner join components on effective_actions.component_key = components.component_key
    where
        effective_actions.cause is not null
        and effective_actions.action not in ('advise', 'quote', 'decline', 'defer', 'negated', 'credit')
),

totals as (
    select
        job_actions.job_key,
        sum(job_actions.labour_h) as labour_h,
        sum(
            case
                when job_actions.labour_cost is null then job_actions.parts_cost
                else job_actions.labour_cost + coalesce(job_actions.parts_cost, 0)
            end
        ) as cost
    from job_actions
    inner join logged on job_actions.job_key = logged.job_key
    group by job_actions.job_key
)

select
    jobs.job_id,
    vehicles.vehicle_id,
    vehicles.model,
    visits.opened_on,
    visits.km as odometer_km,
    logged.codes,
    causes.component,
    causes.cause,
    repairs.action as remedy,
    totals.labour_h,
    totals.cost,
    jobs.downtime_h
from logged
inner join jobs on logged.job_key = jobs.job_key
inner join visits on logged.job_key = visits.job_key
inner join vehicles on visits.vehicle_key = vehicles.vehicle_key
left join causes on logged.job_key = causes.job_key
left join totals on logged.job_key = totals.job_key
left join repairs on causes.job_key = repairs.job_key and causes.component_key = repairs.component_key
order by vehicles.vehicle_id, visits.visit, causes.component, causes.cause
