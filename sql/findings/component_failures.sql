-- One row is: a component that a vehicle kept carries, with its confirmed failures; at most one for each job and part.
-- Reads:      parts, failures, exposures, components, vehicles
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; failures (in the vehicle's record); vehicles (with such a failure); outside (failures outside the record); km (run under observation by the vehicles that carry it, null without readings)
with kept as (
    select vehicles.vehicle_key, exposures.km
    from vehicles
    inner join exposures on vehicles.vehicle_key = exposures.vehicle_key
    where
        (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
),

carriers as (
    select distinct vehicle_key, component_key from parts
),

carried as (
    select carriers.component_key, sum(kept.km) as km
    from carriers
    inner join kept on carriers.vehicle_key = kept.vehicle_key
    group by carriers.component_key
),

failed as (
    select
        failures.component_key,
        count(*) filter (where failures.observed) as failures,
        count(distinct failures.vehicle_key) filter (where failures.observed) as vehicles,
        count(*) filter (where not failures.observed) as outside
    from failures
    inner join kept on failures.vehicle_key = kept.vehicle_key
    group by failures.component_key
)

select
    components.component,
    coalesce(failed.failures, 0) as failures,
    coalesce(failed.vehicles, 0) as vehicles,
    coalesce(failed.outside, 0) as outside,
    carried.km
from carried
inner join components on carried.component_key = components.component_key
left join failed on carried.component_key = failed.component_key
where cast($components as varchar[]) is null or list_contains($components, components.component)
order by components.component
