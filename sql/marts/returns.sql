-- One row is: a repair and a later fault job of the vehicle with the same component or a code of the repair's job, which is no supplement of that job.
-- Reads:      repairs, code_events, visits, rules
-- Parameters: none
-- Columns:    job_key; component_key (these two name the repair); return_job_key; visit (of the return); opened_on (date of the return); days (from day zero); km_later (null where an odometer is unknown); kind (same_component, other_cause or nothing_found)
with same_component as (
    select repairs.job_key, repairs.component_key, later.job_key as return_job_key
    from repairs
    inner join repairs as later
        on repairs.vehicle_key = later.vehicle_key
        and repairs.component_key = later.component_key
        and repairs.visit < later.visit
),

same_code as (
    select distinct repairs.job_key, repairs.component_key, later.job_key as return_job_key
    from repairs
    inner join code_events on repairs.job_key = code_events.job_key
    inner join code_events as later
        on code_events.vehicle_key = later.vehicle_key
        and code_events.code_key = later.code_key
        and code_events.visit < later.visit
    where later.fault_job
),

pairs as (
    select
        coalesce(same_component.job_key, same_code.job_key) as job_key,
        coalesce(same_component.component_key, same_code.component_key) as component_key,
        coalesce(same_component.return_job_key, same_code.return_job_key) as return_job_key,
        same_component.job_key is not null as component_again
    from same_component
    full join same_code
        on same_component.job_key = same_code.job_key
        and same_component.component_key = same_code.component_key
        and same_component.return_job_key = same_code.return_job_key
)

select
    pairs.job_key,
    pairs.component_key,
    pairs.return_job_key,
    visits.visit,
    visits.opened_on,
    date_diff('day', repairs.day_zero, visits.opened_on) as days,
    visits.km - repairs.km as km_later,
    case
        when pairs.component_again then 'same_component'
        when visits.repairing then 'other_cause'
        else 'nothing_found'
    end as kind
from pairs
inner join repairs on pairs.job_key = repairs.job_key and pairs.component_key = repairs.component_key
inner join visits on pairs.return_job_key = visits.job_key
cross join rules
where
    visits.opened_at > repairs.opened_at
    and visits.opened_on >= repairs.day_zero
    -- A supplement: opened within 3 days on a vehicle that has run at most 2 km since.
    and not (
        rules.join_supplements
        and date_diff('day', repairs.day_zero, visits.opened_on) <= 3
        and coalesce(visits.km - repairs.km <= 2, false)
    )
order by pairs.job_key, pairs.component_key, visits.visit
