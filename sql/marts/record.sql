-- One row is: the record as a whole.
-- Reads:      jobs, odometer, settings
-- Parameters: none
-- Columns:    started_on (date, the first dated row); as_of (date, the last day that counts)
with days as (
    select cast(opened_at as date) as day from jobs
    union all
    select cast(closed_at as date) as day from jobs where closed_at is not null
    union all
    select cast(read_at as date) as day from odometer
),

span as (
    select min(day) as started_on, max(day) as ended_on from days
),

chosen as (
    select max(cast(value as date)) as as_of from settings where name = 'as_of'
)

select
    span.started_on,
    coalesce(chosen.as_of, span.ended_on) as as_of
from span
cross join chosen
