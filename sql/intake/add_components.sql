-- One row is: a component that the store doesn't know yet, named by a row that it can take.
-- Reads:      staged_fitted, staged_job_actions, staged_job_checks, jobs, components
-- Parameters: none
-- Columns:    component_key; component
insert into components (component_key, component)
with named as (
    select component from staged_fitted
    union
    select component from staged_job_actions where job_id in (select job_id from jobs)
    union
    select component from staged_job_checks where job_id in (select job_id from jobs)
)
select
    (select coalesce(max(component_key), 0) from components) + row_number() over (order by component) as component_key,
    component
from named
where component is not null and component not in (select component from components)
