-- One row is: a replacement at a job whose parts were all credited afterwards, so that none was fitted.
-- Reads:      job_actions, jobs, rules
-- Parameters: none
-- Columns:    job_key; component_key; position ('' where none is given)
with lines as (
    select
        job_actions.job_key,
        jobs.vehicle_key,
        jobs.opened_at,
        jobs.job_id,
        job_actions.component_key,
        coalesce(lower(trim(job_actions.position)), '') as position,
        job_actions.part_number,
        coalesce(job_actions.quantity, 1.0) as quantity,
        cast(job_actions.action as varchar) = 'credit' or coalesce(job_actions.quantity, 1.0) < 0 as credited
    from job_actions
    inner join jobs on job_actions.job_key = jobs.job_key
    cross join rules
    where cast(job_actions.action as varchar) in ('replace', 'credit') and rules.cancel_credits
),

fitted_parts as (
    select job_key, component_key, position, sum(quantity) as quantity
    from lines
    where not credited
    group by job_key, component_key, position
),

returned_parts as (
    select job_key, vehicle_key, opened_at, component_key, position, part_number, sum(abs(quantity)) as quantity
    from lines
    where credited
    group by job_key, vehicle_key, opened_at, component_key, position, part_number
),

-- A credit goes to the last replacement of that part within the 60 days before it, or in its own job.
credits as (
    select
        bought.job_key,
        bought.component_key,
        bought.position,
        returned.quantity,
        row_number() over (
            partition by returned.job_key, returned.component_key, returned.position, returned.part_number
            order by bought.opened_at desc, bought.job_id desc
        ) as nearest
    from returned_parts as returned
    inner join lines as bought
        on returned.vehicle_key = bought.vehicle_key
        and returned.component_key = bought.component_key
        and returned.position = bought.position
        and coalesce(returned.part_number, bought.part_number, '') = coalesce(bought.part_number, returned.part_number, '')
        and bought.opened_at <= returned.opened_at
    where
        not bought.credited
        and date_diff('day', cast(bought.opened_at as date), cast(returned.opened_at as date)) <= 60
),

sums as (
    select job_key, component_key, position, sum(quantity) as quantity
    from credits
    where nearest = 1
    group by job_key, component_key, position
)

select fitted_parts.job_key, fitted_parts.component_key, fitted_parts.position
from fitted_parts
inner join sums
    on fitted_parts.job_key = sums.job_key
    and fitted_parts.component_key = sums.component_key
    and fitted_parts.position = sums.position
where sums.quantity >= fitted_parts.quantity
order by fitted_parts.job_key, fitted_parts.component_key, fitted_parts.position
