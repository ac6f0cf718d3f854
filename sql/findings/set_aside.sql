-- One row is: an odometer reading not used as it was read (set aside or corrected), or the first of an odometer that starts anew.
-- Reads:      readings, vehicles, jobs
-- Parameters: none
-- Columns:    vehicle_id; read_on (date); km (as read); reading_is (unit, tenths, filler, typo, unsettled; corrected; runs on: the first reading of a new instrument); proposed_km (null where no correction fits); used_km (null where set aside); previous_on (date of the good reading before, null without); previous_km (as read); next_on; next_km; source; job_id (null where no job holds it); why
with touched as (
    select distinct vehicle_key from readings where not good or kind <> 'as read'
),

standing as (
    select
        *,
        case when good then cast(read_at as date) end as good_on,
        case when good then raw_km end as good_km,
        case when good then row_number() over (
            partition by vehicle_key, good, segment order by read_at, raw_km, source, job_key
        ) end as place
    from readings
    where vehicle_key in (select vehicle_key from touched)
),

around as (
    select
        *,
        last_value(good_on ignore nulls) over (
            partition by vehicle_key order by read_at, raw_km, source, job_key
            rows between unbounded preceding and 1 preceding
        ) as previous_on,
        last_value(good_km ignore nulls) over (
            partition by vehicle_key order by read_at, raw_km, source, job_key
            rows between unbounded preceding and 1 preceding
        ) as previous_km,
        first_value(good_on ignore nulls) over (
            partition by vehicle_key order by read_at, raw_km, source, job_key
            rows between 1 following and unbounded following
        ) as next_on,
        first_value(good_km ignore nulls) over (
            partition by vehicle_key order by read_at, raw_km, source, job_key
            rows between 1 following and unbounded following
        ) as next_km
    from standing
)

select
    vehicles.vehicle_id,
    cast(around.read_at as date) as read_on,
    around.raw_km as km,
    around.kind as reading_is,
    around.proposed_km,
    case when around.good then around.km end as used_km,
    around.previous_on,
    around.previous_km,
    around.next_on,
    around.next_km,
    around.source,
    jobs.job_id,
    around.why
from around
inner join vehicles on around.vehicle_key = vehicles.vehicle_key
left join jobs on around.job_key = jobs.job_key
where not around.good or around.kind = 'corrected' or (around.kind = 'runs on' and around.place = 1)
order by vehicles.vehicle_id, around.read_at, around.raw_km, around.source, jobs.job_id
