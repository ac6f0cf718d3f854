-- One row is: a repair on a vehicle kept, followed to its comeback or the end of the follow-up.
-- Reads:      repairs, returns, components, vehicles, jobs, usage_days, vehicle_record
-- Parameters: components (list of text, null keeps all); window_days (whole number); window_km (distance); technicians (whether they are named); models, duties, depots (lists of text, null keeps all)
-- Columns:    job_id; vehicle_id; component; action; part_grade; cause; checks_after; workshop; technician (null unless asked for); model; duty; depot; day_zero (date); km (odometer at the job); comeback_job_id (null where none came); comeback_on (date); days (to the comeback); km_later (to the comeback); kind; followed_days; window_over (whether the window had passed when the record ended)
with kept as (
    select
        repairs.*,
        components.component,
        vehicles.vehicle_id,
        vehicles.model,
        vehicles.duty,
        vehicles.depot
    from repairs
    inner join components on repairs.component_key = components.component_key
    inner join vehicles on repairs.vehicle_key = vehicles.vehicle_key
    where
        (cast($components as varchar[]) is null or list_contains($components, components.component))
        and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
        and repairs.day_zero <= repairs.record_to
),

first_returns as (
    select *
    from returns
    where days <= $window_days and (km_later is null or km_later <= $window_km)
    qualify row_number() over (partition by job_key, component_key order by visit) = 1
),

-- The day on which the vehicle's usage passes the window, between two readings or beyond the last one.
passed as (
    select
        kept.job_key,
        kept.component_key,
        min(
            date_diff('day', kept.day_zero, usage_days.on_day)
            + floor(
                (kept.km + $window_km - usage_days.km)
                * case
                    when usage_days.next_on is null then 1.0 / nullif(vehicle_record.km_per_day, 0)
                    else
                        date_diff('day', usage_days.on_day, usage_days.next_on)
                        / nullif(usage_days.next_km - usage_days.km, 0)
                end
            )
        ) as days
    from kept
    inner join vehicle_record on kept.vehicle_key = vehicle_record.vehicle_key
    inner join usage_days
        on kept.vehicle_key = usage_days.vehicle_key
        and kept.km + $window_km >= usage_days.km
        and (usage_days.next_km is null or kept.km + $window_km < usage_days.next_km)
    group by kept.job_key, kept.component_key
)

select
    jobs.job_id,
    kept.vehicle_id,
    kept.component,
    kept.action,
    kept.part_grade,
    kept.cause,
    kept.checks_after,
    jobs.workshop,
    case when $technicians then jobs.technician end as technician,
    kept.model,
    kept.duty,
    kept.depot,
    kept.day_zero,
    kept.km,
    return_jobs.job_id as comeback_job_id,
    first_returns.opened_on as comeback_on,
    first_returns.days,
    first_returns.km_later,
    first_returns.kind,
    cast(
        greatest(
            coalesce(
                first_returns.days,
                least($window_days, passed.days, date_diff('day', kept.day_zero, kept.record_to))
            ),
            0
        ) as bigint
    ) as followed_days,
    least($window_days, passed.days) <= date_diff('day', kept.day_zero, kept.record_to) as window_over
from kept
inner join jobs on kept.job_key = jobs.job_key
left join first_returns on kept.job_key = first_returns.job_key and kept.component_key = first_returns.component_key
left join jobs as return_jobs on first_returns.return_job_key = return_jobs.job_key
left join passed on kept.job_key = passed.job_key and kept.component_key = passed.component_key
order by kept.vehicle_id, kept.day_zero, jobs.job_id, kept.component
