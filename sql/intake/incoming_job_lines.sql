-- One row is: a numbered line of a job, of this load, whose job is in the store.
-- Reads:      staged_job_actions, jobs, components
-- Parameters: none
-- Columns:    place; known; job_key; line; component_key; action; cause; position; part_number; part_grade; quantity; labour_h (h); labour_cost; parts_cost; note; from_text
select
    staged_job_actions.place,
    staged_job_actions.known,
    jobs.job_key,
    staged_job_actions.line,
    components.component_key,
    cast(staged_job_actions.action as action_kind) as action,
    staged_job_actions.cause,
    staged_job_actions.position,
    staged_job_actions.part_number,
    staged_job_actions.part_grade,
    staged_job_actions.quantity,
    staged_job_actions.labour_h,
    staged_job_actions.labour_cost,
    staged_job_actions.parts_cost,
    staged_job_actions.note,
    coalesce(staged_job_actions.from_text, false) as from_text
from staged_job_actions
inner join jobs on staged_job_actions.job_id = jobs.job_id
inner join components on staged_job_actions.component = components.component
where staged_job_actions.line is not null
