-- One row is: a period and, as asked, a component, model, duty and depot, with its confirmed failures under observation.
-- Reads:      part_endings, parts, visits, components, vehicles
-- Parameters: months (of a period, whole number; periods are counted from January); each_name, each_model, each_duty, each_depot (booleans: whether it is told apart); components, models, duties, depots (lists of text, null keeps all)
-- Columns:    name (component; null where components aren't told apart); model; duty; depot; starts_on (date, first day of the period); events (failures, at most one for each job and part); vehicles (count)
with kept as (
    select
        case when $each_name then components.component end as name,
        case when $each_model then vehicles.model end as model,
        case when $each_duty then vehicles.duty end as duty,
        case when $each_depot then vehicles.depot end as depot,
        (year(visits.opened_on) * 12 + month(visits.opened_on) - 1) // $months * $months as first_month,
        part_endings.vehicle_key
    from part_endings
    inner join parts
        on part_endings.vehicle_key = parts.vehicle_key
        and part_endings.component_key = parts.component_key
        and part_endings.position = parts.position
    inner join visits on part_endings.job_key = visits.job_key
    inner join components on part_endings.component_key = components.component_key
    inner join vehicles on part_endings.vehicle_key = vehicles.vehicle_key
    where
        part_endings.ended = 'failed'
        and visits.observed
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
