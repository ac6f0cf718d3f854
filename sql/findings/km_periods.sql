-- One row is: a period and, as asked, a model, duty and depot, with the distance run under observation.
-- Reads:      exposure_months
-- Parameters: months (of a period, whole number; periods are counted from January); each_model, each_duty, each_depot (booleans: whether it is told apart); models, duties, depots (lists of text, null keeps all)
-- Columns:    model; duty; depot; starts_on (date, first day of the period); km; carried_km (the part of km beyond the last readings)
with kept as (
    select
        case when $each_model then model end as model,
        case when $each_duty then duty end as duty,
        case when $each_depot then depot end as depot,
        (year(month) * 12 + month(month) - 1) // $months * $months as first_month,
        km,
        carried_km
    from exposure_months
    where
        (cast($models as varchar[]) is null or list_contains($models, model))
        and (cast($duties as varchar[]) is null or list_contains($duties, duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, depot))
)

select
    model,
    duty,
    depot,
    make_date(first_month // 12, first_month % 12 + 1, 1) as starts_on,
    sum(km) as km,
    sum(carried_km) as carried_km
from kept
group by model, duty, depot, first_month
order by model, duty, depot, starts_on
