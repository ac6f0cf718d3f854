-- One row is: a sign (a code or the failure of a component) on the vehicles on which what is asked about happened, or all of these happenings (sign null).
-- Reads:      beginnings, vehicles, vehicle_record, exposures
-- Parameters: what (code or component: what is asked about); about (its name); window (how far to look back, in days or km); by_km (boolean: the window is in km); models, duties, depots (lists of text, null keeps all)
-- Columns:    sign_is (code or component); sign; begun (how often it began on these vehicles, not at a job of what is asked about; for all: null); by_chance (happenings that it would precede by chance, thrown at random over each vehicle's own record; for all: null); happenings (with time before them; for all only); unseen (happenings without any; for all only)
with placed as (
    select
        beginnings.what,
        beginnings.name,
        beginnings.vehicle_key,
        beginnings.visit,
        beginnings.job_key,
        beginnings.opened_on,
        beginnings.km,
        beginnings.what = $what and beginnings.name = $about as asked
    from beginnings
    inner join vehicles on beginnings.vehicle_key = vehicles.vehicle_key
    where
        (not $by_km or beginnings.km is not null)
        and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
        and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
        and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
),

-- The time before each, back to the one before it, to the start of the record, or as far as the window reaches.
run_ups as (
    select
        placed.vehicle_key,
        placed.visit,
        placed.job_key,
        placed.opened_on,
        placed.km,
        lag(placed.visit) over before as previous_visit,
        least(
            $window,
            case
                when $by_km then placed.km - coalesce(lag(placed.km) over before, exposures.from_km)
                else
                    date_diff(
                        'day', coalesce(lag(placed.opened_on) over before, vehicle_record.record_from), placed.opened_on
                    )
            end
        ) as reach,
        case
            when $by_km then exposures.km
            else date_diff('day', vehicle_record.record_from, vehicle_record.record_to)
        end as whole
    from placed
    inner join vehicle_record on placed.vehicle_key = vehicle_record.vehicle_key
    inner join exposures on placed.vehicle_key = exposures.vehicle_key
    where placed.asked
    window before as (partition by placed.vehicle_key order by placed.visit)
),

-- The others, not at a job of what is asked about: what begins there warns of nothing.
signs as (
    select placed.*
    from placed
    inner join (select distinct vehicle_key from run_ups) as concerned on placed.vehicle_key = concerned.vehicle_key
    left join run_ups on placed.vehicle_key = run_ups.vehicle_key and placed.visit = run_ups.visit
    where not placed.asked and run_ups.visit is null
),

counts as (
    select what, name, vehicle_key, count(*) as begun from signs group by what, name, vehicle_key
),

expected as (
    select
        counts.what,
        counts.name,
        -- Rounded, for the order in which threads add up changes the last digits.
        round(
            sum(1 - power(1 - least(run_ups.reach / cast(run_ups.whole as double), 1.0), counts.begun)), 9
        ) as by_chance
    from counts
    inner join run_ups on counts.vehicle_key = run_ups.vehicle_key
    where run_ups.reach > 0
    group by counts.what, counts.name
),

totals as (
    select what, name, cast(sum(begun) as bigint) as begun from counts group by what, name
)

select
    totals.what as sign_is,
    totals.name as sign,
    totals.begun,
    coalesce(expected.by_chance, 0.0) as by_chance,
    cast(null as bigint) as happenings,
    cast(null as bigint) as unseen
from totals
left join expected on totals.what = expected.what and totals.name = expected.name
union all
select
    cast(null as varchar) as sign_is,
    cast(null as varchar) as sign,
    cast(null as bigint) as begun,
    cast(null as double) as by_chance,
    count(*) filter (where reach > 0) as happenings,
    count(*) filter (where reach is null or reach <= 0) as unseen
from run_ups
order by sign_is, sign
