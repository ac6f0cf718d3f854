-- One row is: a period and, as asked, a component, model, duty and depot, with its confirmed failures under observation.
-- Reads:      failures, components, vehicles
-- Parameters: months (of a period, whole number; periods are counted from January); each_name, each_model, each_duty, each_depot (booleans: whether it is told apart); components, models, duties, depots (lists of text, null keeps all)
-- Columns:    name (component; null where components aren't told apart); model; duty; depot; starts_on (date, first day of the period); events (failures, at most one for each job and part); vehicles (count)
with kept as (
    select
        case when $each_name then components.component end as name,
        case when $each_model then vehicles.model end as model,
        case when $each_duty then vehicles.duty end as duty,
        case when $each_depot then vehicles.depot end as depot,
        (year(failures.opened_on) * 12 + month(failures.opened_on) - 1) // $months * $months as first_month,
        failures.vehicle_key
    from failures
    inner join components on failures.component_key = components.component_key
    inner join vehicles on failures.vehicle_key = vehicles.vehicle_key
    where
        failures.observed
        and (cast($components as varchar[]) is null or list_contains($components, components.component))
        and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
)

select
    name,
    model,
    duty,
    depot,
    make_date(first_month // 12, first_month % 12 + 1, 1) as starts_on,
    count(*) as events,
    count(distinct vehicle_key) as vehicles
from kept
group by name, model, duty, depot, first_month
order by name, model, duty, depot, starts_on
