-- One row is: a component acted on at a job that is no copy of another, with the money of its rows.
-- Reads:      part_rows, action_rules
-- Parameters: none
-- Columns:    job_key; component_key; labour_cost (of the rows, credits netted; null where none is recorded); parts_cost; repaired (one of the rows is a repairing action)
select
    part_rows.job_key,
    part_rows.component_key,
    sum(part_rows.labour_cost) as labour_cost,
    sum(part_rows.parts_cost) as parts_cost,
    coalesce(bool_or(action_rules.repairing), false) as repaired
from part_rows
left join action_rules on part_rows.action = action_rules.action
group by part_rows.job_key, part_rows.component_key
order by part_rows.job_key, part_rows.component_key
