-- One row is: a code of this load whose job is in the store.
-- Reads:      staged_job_codes, jobs, codes
-- Parameters: none
-- Columns:    place; known; job_key; code_key; failure_type; status; from_text
select
    staged_job_codes.place,
    staged_job_codes.known,
    jobs.job_key,
    codes.code_key,
    staged_job_codes.failure_type,
    cast(staged_job_codes.status as code_status) as status,
    coalesce(staged_job_codes.from_text, false) as from_text
from staged_job_codes
inner join jobs on staged_job_codes.job_id = jobs.job_id
inner join codes on staged_job_codes.code = codes.code
