-- One row is: a job, up to the day its vehicle left, that ended the life of a part, with the strongest renewal it held.
-- Reads:      part_rows, action_rules, visits, vehicle_record
-- Parameters: none
-- Columns:    vehicle_key; component_key; position; job_key; visit; km; km_is; ended (failed, preventive or removed); found (on the road: the time of failure is known; at an inspection: it lies somewhere before; null unless failed); began_as (kind of the life that starts here, null where none starts); part_grade; cost
with acted as (
    select
        part_rows.vehicle_key,
        part_rows.component_key,
        part_rows.position,
        part_rows.job_key,
        part_rows.visit,
        max_by(action_rules.began_as, action_rules.strength) as began_as,
        max_by(part_rows.part_grade, action_rules.strength) as part_grade,
        bool_or(part_rows.cause is not null) as caused,
        bool_or(action_rules.disabling) as disabled,
        sum(part_rows.cost) as cost
    from part_rows
    inner join action_rules on part_rows.action = action_rules.action
    where action_rules.began_as is not null or action_rules.disabling
    group by
        part_rows.vehicle_key, part_rows.component_key, part_rows.position, part_rows.job_key, part_rows.visit
)

select
    acted.vehicle_key,
    acted.component_key,
    acted.position,
    acted.job_key,
    acted.visit,
    visits.km,
    visits.km_is,
    case
        when acted.disabled then 'removed'
        when visits.fault_job or acted.caused then 'failed'
        else 'preventive'
    end as ended,
    case
        when acted.disabled then null
        when visits.fault_job then 'on the road'
        when acted.caused then 'at an inspection'
    end as found,
    case when acted.disabled then null else acted.began_as end as began_as,
    acted.part_grade,
    acted.cost
from acted
inner join visits on acted.job_key = visits.job_key
inner join vehicle_record on acted.vehicle_key = vehicle_record.vehicle_key
where visits.opened_on <= vehicle_record.record_to
order by acted.vehicle_key, acted.component_key, acted.position, acted.visit
