-- One row is: a reference of the store with the number of rows that point nowhere; there must be none.
-- Reads:      jobs, vehicles, odometer, job_codes, codes, job_actions, job_checks, fitted, components, readings
-- Parameters: none
-- Columns:    reference; rows (count)
with counted as (
    select 'jobs.vehicle_key' as reference, count(*) as "rows"
    from jobs anti join vehicles on jobs.vehicle_key = vehicles.vehicle_key
    union all
    select 'odometer.vehicle_key', count(*)
    from odometer anti join vehicles on odometer.vehicle_key = vehicles.vehicle_key
    union all
    select 'readings.vehicle_key', count(*)
    from readings anti join vehicles on readings.vehicle_key = vehicles.vehicle_key
    union all
    select 'job_codes.job_key', count(*)
    from job_codes anti join jobs on job_codes.job_key = jobs.job_key
    union all
    select 'job_codes.code_key', count(*)
    from job_codes anti join codes on job_codes.code_key = codes.code_key
    union all
    select 'job_actions.job_key', count(*)
    from job_actions anti join jobs on job_actions.job_key = jobs.job_key
    union all
    select 'job_actions.component_key', count(*)
    from job_actions anti join components on job_actions.component_key = components.component_key
    union all
    select 'job_checks.job_key', count(*)
    from job_checks anti join jobs on job_checks.job_key = jobs.job_key
    union all
    select 'job_checks.component_key', count(*)
    from job_checks anti join components on job_checks.component_key = components.component_key
    where job_checks.component_key is not null
    union all
    select 'fitted.component_key', count(*)
    from fitted anti join components on fitted.component_key = components.component_key
)
select reference, "rows" from counted where "rows" > 0 order by reference
