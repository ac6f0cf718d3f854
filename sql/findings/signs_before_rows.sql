-- One row is: a happening of what is asked about and a sign that began before it, within the window and after the happening before.
-- Reads:      beginnings, vehicles, vehicle_record, exposures, jobs
-- Parameters: what (code or component: what is asked about); about (its name); window (how far to look back, in days or km); by_km (boolean: the window is in km); models, duties, depots (lists of text, null keeps all)
-- Columns:    sign_is (code or component); sign; vehicle_id; sign_job_id; sign_on (date it began); job_id (of the happening); opened_on (date); lead_days (from sign to happening); lead_km (null where an odometer is unknown); earliest (whether it is the first beginning of this sign before this happening)
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

preceding as (
    select
        signs.what,
        signs.name,
        signs.vehicle_key,
        signs.job_key as sign_job_key,
        signs.opened_on as sign_on,
        run_ups.job_key,
        run_ups.opened_on,
        date_diff('day', signs.opened_on, run_ups.opened_on) as lead_days,
        run_ups.km - signs.km as lead_km,
        row_number() over (partition by signs.what, signs.name, run_ups.job_key order by signs.visit) = 1 as earliest
    from signs
    inner join run_ups
        on signs.vehicle_key = run_ups.vehicle_key
        and signs.visit < run_ups.visit
        and (run_ups.previous_visit is null or signs.visit > run_ups.previous_visit)
    where
        run_ups.reach > 0
        and case
            when $by_km then run_ups.km - signs.km
            else date_diff('day', signs.opened_on, run_ups.opened_on)
        end <= $window
)

select
    preceding.what as sign_is,
    preceding.name as sign,
    vehicles.vehicle_id,
    sign_jobs.job_id as sign_job_id,
    preceding.sign_on,
    jobs.job_id,
    preceding.opened_on,
    preceding.lead_days,
    preceding.lead_km,
    preceding.earliest
from preceding
inner join vehicles on preceding.vehicle_key = vehicles.vehicle_key
inner join jobs on preceding.job_key = jobs.job_key
inner join jobs as sign_jobs on preceding.sign_job_key = sign_jobs.job_key
order by sign_is, sign, preceding.opened_on, vehicles.vehicle_id, jobs.job_id, preceding.sign_on, sign_jobs.job_id
