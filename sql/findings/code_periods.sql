-- One row is: a period and, as asked, a code, model, duty and depot, with the episodes that began in it.
-- Reads:      code_events, codes, vehicles, part_rows, components
-- Parameters: months (of a period, whole number; periods are counted from January); each_name, each_model, each_duty, each_depot (booleans: whether it is told apart); names (codes, list of text, null keeps all); models, duties, depots, components (lists of text, null keeps all; components keeps the jobs that acted on one)
-- Columns:    name (code; null where codes aren't told apart); model; duty; depot; starts_on (date, first day of the period); events (episodes); vehicles (count)
with named as (
    select distinct part_rows.job_key
    from part_rows
    inner join components on part_rows.component_key = components.component_key
    where list_contains($components, components.component)
),

-- An episode counts where any of its kept jobs does, from the first of them on.
episodes as (
    select
        code_events.code_key,
        code_events.vehicle_key,
        min(code_events.opened_on) as began_on
    from code_events
    left join named on code_events.job_key = named.job_key
    where cast($components as varchar[]) is null or named.job_key is not null
    group by code_events.code_key, code_events.vehicle_key, code_events.episode
),

kept as (
    select
        case when $each_name then codes.code end as name,
        case when $each_model then vehicles.model end as model,
        case when $each_duty then vehicles.duty end as duty,
        case when $each_depot then vehicles.depot end as depot,
        (year(episodes.began_on) * 12 + month(episodes.began_on) - 1) // $months * $months as first_month,
        episodes.vehicle_key
    from episodes
    inner join codes on episodes.code_key = codes.code_key
    inner join vehicles on episodes.vehicle_key = vehicles.vehicle_key
    where
        (cast($names as varchar[]) is null or list_contains($names, codes.code))
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
