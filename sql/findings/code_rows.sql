-- One row is: an event of a code: a vehicle and the job at which it was read.
-- Reads:      code_events, codes, vehicles, visits, jobs, job_codes
-- Parameters: code (text); models, duties, depots (lists of text, null keeps all)
-- Columns:    job_id; vehicle_id; opened_on (date); code; status; episode; odometer_km; reason
select
    jobs.job_id,
    vehicles.vehicle_id,
    code_events.opened_on,
    codes.code,
    string_agg(distinct cast(job_codes.status as varchar), ', ' order by cast(job_codes.status as varchar)) as status,
    code_events.episode,
    visits.km as odometer_km,
    cast(jobs.reason as varchar) as reason
from code_events
inner join codes on code_events.code_key = codes.code_key
inner join vehicles on code_events.vehicle_key = vehicles.vehicle_key
inner join visits on code_events.job_key = visits.job_key
inner join jobs on code_events.job_key = jobs.job_key
inner join job_codes on code_events.job_key = job_codes.job_key and code_events.code_key = job_codes.code_key
where
    codes.code = $code
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
group by
    jobs.job_id, vehicles.vehicle_id, code_events.opened_on, codes.code, code_events.episode, visits.km, jobs.reason
order by vehicles.vehicle_id, code_events.opened_on, jobs.job_id
