-- One row is: a repair: an observed fault job and a component with a repairing action in it.
-- Reads:      part_rows, action_rules, visits, vehicle_record
-- Parameters: none
-- Columns:    job_key; component_key; vehicle_key; visit; opened_at; action (the strongest of the repairing ones); part_grade; day_zero (date the job was closed, else opened); km (odometer at the job, null where unknown); record_to (date on which the vehicle's record ends)
select
    part_rows.job_key,
    part_rows.component_key,
    visits.vehicle_key,
    visits.visit,
    visits.opened_at,
    max_by(part_rows.action, action_rules.strength) as action,
    max_by(part_rows.part_grade, action_rules.strength) as part_grade,
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
order by visits.vehicle_key, visits.visit, part_rows.component_key
