-- One row is: a table into which rows can come from free text.
-- Reads:      job_codes, job_actions
-- Parameters: none
-- Columns:    table_name; rows (count); from_text (count)
select 'job_codes' as table_name, count(*) as rows, count(*) filter (where from_text) as from_text from job_codes
union all
select 'job_actions' as table_name, count(*) as rows, count(*) filter (where from_text) as from_text from job_actions
order by table_name
