-- One row is: a job of this load; it is noted to come from the source named.
-- Reads:      told_jobs, jobs; changes job_sources
-- Parameters: source (text)
-- Columns:    none
merge into job_sources
using (
    select jobs.job_key from told_jobs inner join jobs on told_jobs.job_id = jobs.job_id
) as named
on job_sources.job_key = named.job_key
when matched then update set source = $source
when not matched then insert (job_key, source) values (named.job_key, $source)
