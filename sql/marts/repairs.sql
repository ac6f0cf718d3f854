-- One row is: a repair: an observed fault job and a component with a repairing action in it.
-- Reads:      part_rows, action_rules, visits, vehicle_record, job_checks, effective_actions, components
-- Parameters: none
-- Columns:    job_key; component_key; vehicle_key; visit; opened_at; action (the strongest of the repairing ones); part_grade; cause (of the strongest action that has one, null where none has); checks_after (done, not done or not recorded: road test, relearn, codes read again); day_zero (date the job was closed, else opened); km (odometer at the job, null where unknown); record_to (date on which the vehicle's record ends)
with repaired as (
    select
        part_rows.job_key,
        part_rows.component_key,
        visits.vehicle_key,
        visits.visit,
        visits.opened_at,
        max_by(part_rows.action, action_rules.strength) as action,
        max_by(part_rows.part_grade, action_rules.strength) as part_grade,
        max_by(part_rows.cause, cast(action_rules.strength as varchar) || part_rows.cause) as cause,
        coalesce(visits.closed_on, visits.opened_on) as day_zero,
        visits.km,
        vehicle_record.record_to
    from part_rows
    inner join action_rules on part_rows.action = action_rules.action
    inner join visits on part_rows.job_key = visits.job_key
    inner join vehicle_record on visits.vehicle_key = vehicle_record.vehicle_key
    where action_rules.repairing and visits.fault_job and visits.observed
    group by
        part_rows.job_key,
        part_rows.component_key,
        visits.vehicle_key,
        visits.visit,
        visits.opened_at,
        visits.opened_on,
        visits.closed_on,
        visits.km,
        vehicle_record.record_to
),

whole_vehicle as (
    select component_key from components where component = 'vehicle'
),

-- What stands as a check with its outcome, and what stands as work done.
told as (
    select job_key, component_key, "check" as proof, passed, true as by_check
    from job_checks
    where passed is not null and "check" in ('road_test', 'relearn', 'codes_reread')
    union all
    select job_key, component_key, action as proof, true as passed, false as by_check
    from effective_actions
    where action in ('road_test', 'relearn')
),

-- A check passed at last has passed; work done counts where no check of that kind says otherwise.
proofs as (
    select
        repaired.job_key,
        repaired.component_key,
        told.proof,
        coalesce(bool_or(told.passed) filter (where told.by_check), true) as passed
    from repaired
    inner join told on repaired.job_key = told.job_key
    left join whole_vehicle on told.component_key = whole_vehicle.component_key
    where
        told.component_key is null
        or whole_vehicle.component_key is not null
        or told.component_key = repaired.component_key
    group by repaired.job_key, repaired.component_key, told.proof
),

proven as (
    select job_key, component_key, bool_and(passed) as passed from proofs group by job_key, component_key
)

select
    repaired.job_key,
    repaired.component_key,
    repaired.vehicle_key,
    repaired.visit,
    repaired.opened_at,
    repaired.action,
    repaired.part_grade,
    repaired.cause,
    case
        when proven.passed then 'done'
        when proven.job_key is not null then 'not done'
        else 'not recorded'
    end as checks_after,
    repaired.day_zero,
    repaired.km,
    repaired.record_to
from repaired
left join proven on repaired.job_key = proven.job_key and repaired.component_key = proven.component_key
order by repaired.vehicle_key, repaired.visit, repaired.component_key
