-- One row is: a job of a source, opened in a period, that the files of this load don't tell of.
-- Reads:      jobs, job_sources, told_jobs; makes the temporary table missing_jobs
-- Parameters: source (text); start, end (dates, both included)
-- Columns:    job_key
create or replace temp table missing_jobs as
select jobs.job_key
from jobs
inner join job_sources on jobs.job_key = job_sources.job_key
anti join told_jobs on jobs.job_id = told_jobs.job_id
where
    job_sources.source = $source
    and cast(jobs.opened_at as date) between $start and $end
