-- One row is: a code that the store doesn't know yet, named by a row that it can take.
-- Reads:      staged_job_codes, jobs, codes
-- Parameters: none
-- Columns:    code_key; code
insert into codes (code_key, code)
with named as (
    select distinct code from staged_job_codes where job_id in (select job_id from jobs)
)
select
    (select coalesce(max(code_key), 0) from codes) + row_number() over (order by code) as code_key,
    code
from named
where code not in (select code from codes)
