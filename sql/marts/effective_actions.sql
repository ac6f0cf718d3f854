-- One row is: an action at a job, as it counts: a part returned, and a replacement all of whose parts were credited afterwards, is a credit.
-- Reads:      job_actions, credited_parts
-- Parameters: none
-- Columns:    job_key; line (null where none is given); component_key; position (in lower case, '' where none is given); action; cause (null where blank); part_number; part_grade; labour_cost; parts_cost
select
    job_actions.job_key,
    job_actions.line,
    job_actions.component_key,
    coalesce(lower(trim(job_actions.position)), '') as position,
    case
        when job_actions.quantity < 0 or credited_parts.job_key is not null then 'credit'
        else cast(job_actions.action as varchar)
    end as action,
    nullif(trim(job_actions.cause), '') as cause,
    job_actions.part_number,
    job_actions.part_grade,
    job_actions.labour_cost,
    job_actions.parts_cost
from job_actions
left join credited_parts
    on job_actions.job_key = credited_parts.job_key
    and job_actions.component_key = credited_parts.component_key
    and coalesce(lower(trim(job_actions.position)), '') = credited_parts.position
    and cast(job_actions.action as varchar) = 'replace'
