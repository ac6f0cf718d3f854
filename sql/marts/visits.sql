-- One row is: a job up to the as-of date, in the order of its vehicle's visits.
-- Reads:      jobs, effective_actions, action_rules, readings, usage_at, vehicle_record, record, copied_jobs
-- Parameters: none
-- Columns:    job_key; vehicle_key; visit (1 is the vehicle's first; by time, then job_id); opened_at; opened_on (date); closed_on (date, null while open); km (odometer, null where unknown); km_is (recorded, estimated, set aside: estimated in place of a reading that contradicts others; null where unknown); fault_job (breakdown, defect or warranty); repairing (holds a repairing action); copy_of (key of the job that this one repeats, null for all others); observed (lies between record_from and record_to, and is no copy)
with repairing_jobs as (
    select distinct effective_actions.job_key
    from effective_actions
    inner join action_rules on effective_actions.action = action_rules.action
    where action_rules.repairing
),

judged as (
    select job_key, bool_or(good) as good, max(km) filter (where good) as km
    from readings
    where job_key is not null
    group by job_key
)

select
    jobs.job_key,
    jobs.vehicle_key,
    row_number() over (partition by jobs.vehicle_key order by jobs.opened_at, jobs.job_id) as visit,
    jobs.opened_at,
    cast(jobs.opened_at as date) as opened_on,
    cast(jobs.closed_at as date) as closed_on,
    coalesce(judged.km, usage_at.km) as km,
    case
        when judged.good then 'recorded'
        when usage_at.km is null then null
        when judged.job_key is not null then 'set aside'
        else 'estimated'
    end as km_is,
    coalesce(cast(jobs.reason as varchar) in ('breakdown', 'defect', 'warranty'), false) as fault_job,
    repairing_jobs.job_key is not null as repairing,
    copied_jobs.original_job_key as copy_of,
    coalesce(
        cast(jobs.opened_at as date) between vehicle_record.record_from and vehicle_record.record_to, false
    )
    and copied_jobs.job_key is null as observed
from jobs
cross join record
inner join vehicle_record on jobs.vehicle_key = vehicle_record.vehicle_key
left join repairing_jobs on jobs.job_key = repairing_jobs.job_key
left join judged on jobs.job_key = judged.job_key
left join copied_jobs on jobs.job_key = copied_jobs.job_key
left join usage_at on jobs.vehicle_key = usage_at.vehicle_key and cast(jobs.opened_at as date) = usage_at.on_day
where cast(jobs.opened_at as date) <= record.as_of
order by jobs.vehicle_key, visit
