-- One row is: a part that a vehicle carries, running ones included.
-- Reads:      vehicles, fitted, part_rows, job_checks, visits
-- Parameters: none
-- Columns:    vehicle_key; component_key; position ('' where it tells nothing apart)
with named as (
    select vehicle_key, component_key from part_rows
    union
    select visits.vehicle_key, job_checks.component_key
    from job_checks
    inner join visits on job_checks.job_key = visits.job_key
    where job_checks.component_key is not null
),

listed as (
    select distinct component_key from fitted
),

carrying as (
    select model, component_key from fitted
    union
    select distinct coalesce(vehicles.model, '') as model, named.component_key
    from named
    inner join vehicles on named.vehicle_key = vehicles.vehicle_key
    left join listed on named.component_key = listed.component_key
    where listed.component_key is null
),

positions as (
    select distinct coalesce(vehicles.model, '') as model, part_rows.component_key, part_rows.position
    from part_rows
    inner join vehicles on part_rows.vehicle_key = vehicles.vehicle_key
    where part_rows.position <> ''
),

unplaced as (
    select distinct vehicle_key, component_key from part_rows where position = ''
)

select
    vehicles.vehicle_key,
    carrying.component_key,
    coalesce(positions.position, '') as position
from vehicles
inner join carrying on coalesce(vehicles.model, '') = carrying.model
left join positions on carrying.model = positions.model and carrying.component_key = positions.component_key
union
-- Rows without a position on a vehicle whose model has several: a part of its own, on that vehicle only.
select
    vehicles.vehicle_key,
    carrying.component_key,
    '' as position
from vehicles
inner join carrying on coalesce(vehicles.model, '') = carrying.model
inner join unplaced
    on vehicles.vehicle_key = unplaced.vehicle_key and carrying.component_key = unplaced.component_key
order by vehicle_key, component_key, position
