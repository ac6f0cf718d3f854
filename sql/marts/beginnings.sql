-- One row is: an observed visit at which a fault began on a vehicle: the first event of a code's episode, or a component's confirmed failure.
-- Reads:      code_events, codes, failures, components, visits
-- Parameters: none
-- Columns:    what (code or component); name; vehicle_key; visit; job_key; opened_on (date); km (odometer, null where unknown)
with every as (
    select
        'code' as what,
        codes.code as name,
        code_events.vehicle_key,
        code_events.visit
    from code_events
    inner join codes on code_events.code_key = codes.code_key
    where code_events.begins
    union all
    select distinct
        'component' as what,
        components.component as name,
        failures.vehicle_key,
        failures.visit
    from failures
    inner join components on failures.component_key = components.component_key
)

select
    every.what,
    every.name,
    visits.vehicle_key,
    visits.visit,
    visits.job_key,
    visits.opened_on,
    visits.km
from every
inner join visits on every.vehicle_key = visits.vehicle_key and every.visit = visits.visit
where visits.observed
order by visits.vehicle_key, visits.visit, every.what, every.name
