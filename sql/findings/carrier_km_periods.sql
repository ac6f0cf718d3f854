-- One row is: a period and, as asked, a component, model, duty and depot, with the distance run under observation by the vehicles that carry it.
-- Reads:      exposure_months, parts, components, vehicles
-- Parameters: months (of a period, whole number; periods are counted from January); each_name, each_model, each_duty, each_depot (booleans: whether it is told apart); components, models, duties, depots (lists of text, null keeps all)
-- Columns:    name (component; null where components aren't told apart: then a vehicle that carries several counts once); model; duty; depot; starts_on (date, first day of the period); km; carried_km (the part of km beyond the last readings)
with carrying as (
    -- Whole models carry a component, never single vehicles.
    select distinct
        case when $each_name then components.component end as name,
        coalesce(vehicles.model, '') as model
    from parts
    inner join components on parts.component_key = components.component_key
    inner join vehicles on parts.vehicle_key = vehicles.vehicle_key
    where cast($components as varchar[]) is null or list_contains($components, components.component)
),

kept as (
    select
        carrying.name,
        case when $each_model then exposure_months.model end as model,
        case when $each_duty then exposure_months.duty end as duty,
        case when $each_depot then exposure_months.depot end as depot,
        (year(exposure_months.month) * 12 + month(exposure_months.month) - 1) // $months * $months as first_month,
        exposure_months.km,
        exposure_months.carried_km
    from exposure_months
    inner join carrying on coalesce(exposure_months.model, '') = carrying.model
    where
        (cast($models as varchar[]) is null or list_contains($models, exposure_months.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, exposure_months.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, exposure_months.depot))
)

select
    name,
    model,
    duty,
    depot,
    make_date(first_month // 12, first_month % 12 + 1, 1) as starts_on,
    sum(km) as km,
    sum(carried_km) as carried_km
from kept
group by name, model, duty, depot, first_month
order by name, model, duty, depot, starts_on
