-- One row is: a component, a code, a vehicle, a model, a duty or a depot, with the jobs of the vehicles kept.
-- Reads:      visits, jobs, vehicles, exposures, job_money, parts, components, code_events, codes
-- Parameters: by (component, code, vehicle, model, duty or depot); downtime_rate (price of an hour, 0 for none); components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    name (null where not recorded); jobs (count); jobs_without_cost (of these: no row records money); vehicles (with such a job); labour_cost (credits netted, null where none is recorded); parts_cost; downtime_cost; fault_cost (of all three, in fault jobs); downtime_h; downtime_jobs (jobs that record it); seen (vehicles with a distance that could have had such a job); km (they ran under observation); km_km (sum of squares over them); spent (cost of vehicles with a distance); spent_spent (sum of squares over vehicles); spent_km (sum of products)
with carrying as (
    select distinct parts.vehicle_key, parts.component_key
    from parts
    inner join components on parts.component_key = components.component_key
    where
        (cast($components as varchar[]) is null or list_contains($components, components.component))
        and ($by = 'component' or $components is not null)
),

kept as (
    select
        vehicles.vehicle_key,
        exposures.km,
        case $by
            when 'vehicle' then vehicles.vehicle_id
            when 'model' then vehicles.model
            when 'duty' then vehicles.duty
            when 'depot' then vehicles.depot
        end as name,
        $components is null or vehicles.vehicle_key in (select vehicle_key from carrying) as carries
    from vehicles
    inner join exposures on vehicles.vehicle_key = exposures.vehicle_key
    where
        (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
),

chosen as (
    select component_key, component
    from components
    where (cast($components as varchar[]) is null or list_contains($components, component))
),

work as (
    select *
    from job_money
    where $by = 'component' and component_key in (select component_key from chosen)
),

whole as (
    select job_key, sum(labour_cost) as labour_cost, sum(parts_cost) as parts_cost
    from job_money
    where $by <> 'component' and component_key in (select component_key from chosen)
    group by job_key
),

shared as (
    select job_key, component_key as name_key, null as name, labour_cost, parts_cost, repaired
    from work
    union all
    select code_events.job_key, code_events.code_key as name_key, null as name, whole.labour_cost, whole.parts_cost, true as repaired
    from code_events
    left join whole on code_events.job_key = whole.job_key
    where $by = 'code' and ($components is null or whole.job_key is not null)
    union all
    select visits.job_key, null as name_key, kept.name, whole.labour_cost, whole.parts_cost, true as repaired
    from visits
    inner join kept on visits.vehicle_key = kept.vehicle_key
    left join whole on visits.job_key = whole.job_key
    where
        $by in ('vehicle', 'model', 'duty', 'depot')
        and ($components is null or whole.job_key is not null)
),

priced as (
    select
        shared.name_key,
        shared.name,
        visits.vehicle_key,
        visits.fault_job,
        shared.labour_cost,
        shared.parts_cost,
        case when shared.repaired then jobs.downtime_h end as downtime_h
    from shared
    inner join visits on shared.job_key = visits.job_key
    inner join jobs on shared.job_key = jobs.job_key
    where visits.observed
),

by_vehicle as (
    select
        priced.name_key,
        priced.name,
        priced.vehicle_key,
        count(*) as jobs,
        count(*) filter (where priced.labour_cost is null and priced.parts_cost is null) as jobs_without_cost,
        sum(priced.labour_cost) as labour_cost,
        sum(priced.parts_cost) as parts_cost,
        sum(priced.downtime_h) as downtime_h,
        count(priced.downtime_h) as downtime_jobs,
        sum(
            coalesce(priced.labour_cost, 0)
            + coalesce(priced.parts_cost, 0)
            + coalesce(priced.downtime_h, 0) * $downtime_rate
        ) as spent,
        sum(
            case
                when priced.fault_job
                    then
                        coalesce(priced.labour_cost, 0)
                        + coalesce(priced.parts_cost, 0)
                        + coalesce(priced.downtime_h, 0) * $downtime_rate
            end
        ) as fault_cost
    from priced
    group by priced.name_key, priced.name, priced.vehicle_key
),

-- The vehicles whose distance counts: by component those that carry it, else those that carry any of the kept ones.
at_risk as (
    select kept.vehicle_key, carrying.component_key, kept.km, 1.0 as one
    from kept
    inner join carrying on kept.vehicle_key = carrying.vehicle_key
    where $by = 'component' and kept.km is not null
    union all
    select vehicle_key, cast(null as integer) as component_key, km, 1.0 as one
    from kept
    where $by <> 'component' and carries and km is not null
),

spending as (
    select
        coalesce(by_vehicle.name, components.component, codes.code) as name,
        cast(sum(by_vehicle.jobs) as bigint) as jobs,
        cast(sum(by_vehicle.jobs_without_cost) as bigint) as jobs_without_cost,
        count(*) as vehicles,
        sum(by_vehicle.labour_cost) as labour_cost,
        sum(by_vehicle.parts_cost) as parts_cost,
        sum(by_vehicle.fault_cost) as fault_cost,
        sum(by_vehicle.downtime_h) as downtime_h,
        cast(sum(by_vehicle.downtime_jobs) as bigint) as downtime_jobs,
        coalesce(sum(by_vehicle.spent * at_risk.one), 0.0) as spent,
        coalesce(sum(by_vehicle.spent * by_vehicle.spent * at_risk.one), 0.0) as spent_spent,
        coalesce(sum(by_vehicle.spent * at_risk.km), 0.0) as spent_km
    from by_vehicle
    inner join kept on by_vehicle.vehicle_key = kept.vehicle_key
    left join at_risk
        on by_vehicle.vehicle_key = at_risk.vehicle_key
        and (by_vehicle.name_key = at_risk.component_key or at_risk.component_key is null)
    left join components on by_vehicle.name_key = components.component_key and $by = 'component'
    left join codes on by_vehicle.name_key = codes.code_key and $by = 'code'
    group by by_vehicle.name, components.component, codes.code
),

driven as (
    select components.component as name, count(*) as seen, sum(at_risk.km) as km, sum(at_risk.km * at_risk.km) as km_km
    from at_risk
    inner join components on at_risk.component_key = components.component_key
    group by components.component
    union all
    select codes.code as name, fleet.seen, fleet.km, fleet.km_km
    from codes
    cross join (select count(*) as seen, sum(km) as km, sum(km * km) as km_km from at_risk) as fleet
    where $by = 'code'
    union all
    select kept.name, count(*) as seen, sum(at_risk.km) as km, sum(at_risk.km * at_risk.km) as km_km
    from at_risk
    inner join kept on at_risk.vehicle_key = kept.vehicle_key
    where $by in ('vehicle', 'model', 'duty', 'depot')
    group by kept.name
)

select
    spending.name,
    spending.jobs,
    spending.jobs_without_cost,
    spending.vehicles,
    spending.labour_cost,
    spending.parts_cost,
    spending.downtime_h * $downtime_rate as downtime_cost,
    coalesce(spending.fault_cost, 0.0) as fault_cost,
    spending.downtime_h,
    spending.downtime_jobs,
    coalesce(driven.seen, 0) as seen,
    driven.km,
    driven.km_km,
    spending.spent,
    spending.spent_spent,
    spending.spent_km
from spending
left join driven on coalesce(spending.name, '') = coalesce(driven.name, '')
order by spending.name nulls last
