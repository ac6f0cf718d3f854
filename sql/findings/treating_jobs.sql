-- One row is: an observed job that treated a vehicle kept: a campaign, or a named action on a named component.
-- Reads:      visits, jobs, vehicles, part_rows, components
-- Parameters: treated_component (text, null for any); treated_action (text, null for any work in a job whose reason is campaign); from_on (date, null for any day); models, duties, depots (lists of text, null keeps all)
-- Columns:    vehicle_id; job_id; opened_on (date); fault_job
select distinct
    vehicles.vehicle_id,
    jobs.job_id,
    visits.opened_on,
    visits.fault_job
from visits
inner join jobs on visits.job_key = jobs.job_key
inner join vehicles on visits.vehicle_key = vehicles.vehicle_key
left join part_rows on visits.job_key = part_rows.job_key
left join components on part_rows.component_key = components.component_key
where
    visits.observed
    and (cast($from_on as date) is null or visits.opened_on >= cast($from_on as date))
    and (cast($treated_component as varchar) is null or components.component = $treated_component)
    and (
        (cast($treated_action as varchar) is null and cast(jobs.reason as varchar) = 'campaign')
        or part_rows.action = $treated_action
    )
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by vehicles.vehicle_id, visits.opened_on, jobs.job_id
