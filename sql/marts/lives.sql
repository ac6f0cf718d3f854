-- One row is: a life of a part, from new or a renewal to its end or its last observation.
-- Reads:      parts, part_endings, part_rows, vehicles, vehicle_record, exposures, visits
-- Parameters: none
-- Columns:    vehicle_key; component_key; position; began_as (new, replaced, repaired or cleaned); part_grade; start_km; entry_km (odometer from which it is under observation); end_km; ended (failed, preventive, removed, left or record ends); found (null unless failed); known_good_km (for a failure found at an inspection: odometer at which it last worked; else null); unknown_start (taken for the original part though the record begins later); estimated (start or end has no good reading of its own); began_job_key (null for the part that came with the vehicle); end_job_key (null where still running)
with starts as (
    select
        parts.vehicle_key,
        parts.component_key,
        parts.position,
        0 as visit,
        'new' as began_as,
        cast(null as varchar) as part_grade,
        coalesce(vehicles.in_service_km, 0.0) as start_km,
        'recorded' as start_is,
        cast(null as integer) as began_job_key,
        true as lives_on
    from parts
    inner join vehicles on parts.vehicle_key = vehicles.vehicle_key
    union all
    select
        part_endings.vehicle_key,
        part_endings.component_key,
        part_endings.position,
        part_endings.visit,
        part_endings.began_as,
        part_endings.part_grade,
        part_endings.km as start_km,
        part_endings.km_is as start_is,
        part_endings.job_key as began_job_key,
        part_endings.began_as is not null as lives_on
    from part_endings
    inner join parts
        on part_endings.vehicle_key = parts.vehicle_key
        and part_endings.component_key = parts.component_key
        and part_endings.position = parts.position
),

spans as (
    select
        starts.*,
        lead(starts.visit) over (
            partition by starts.vehicle_key, starts.component_key, starts.position order by starts.visit
        ) as end_visit,
        greatest(starts.start_km, exposures.from_km) as entry_km
    from starts
    inner join exposures on starts.vehicle_key = exposures.vehicle_key
),

inspected as (
    select
        spans.vehicle_key,
        spans.component_key,
        spans.position,
        spans.visit,
        max(part_rows.visit) as inspected_visit
    from spans
    inner join part_rows
        on spans.vehicle_key = part_rows.vehicle_key
        and spans.component_key = part_rows.component_key
        and part_rows.position in (spans.position, '')
    where
        part_rows.action = 'inspect'
        and part_rows.visit > spans.visit
        and part_rows.visit < spans.end_visit
    group by spans.vehicle_key, spans.component_key, spans.position, spans.visit
)

select
    spans.vehicle_key,
    spans.component_key,
    spans.position,
    spans.began_as,
    spans.part_grade,
    spans.start_km,
    spans.entry_km,
    coalesce(part_endings.km, exposures.to_km) as end_km,
    case
        when part_endings.ended is not null then part_endings.ended
        when vehicles.left_service_on <= vehicle_record.record_to then 'left'
        else 'record ends'
    end as ended,
    case when part_endings.ended = 'failed' then part_endings.found end as found,
    case
        when part_endings.ended = 'failed' and part_endings.found = 'at an inspection'
            then greatest(coalesce(looks.km, spans.start_km), spans.entry_km)
    end as known_good_km,
    spans.visit = 0 and spans.start_km < spans.entry_km as unknown_start,
    spans.start_is <> 'recorded'
    or coalesce(
        part_endings.km_is, case when vehicle_record.record_to > vehicle_record.last_on then 'estimated' end, 'recorded'
    ) <> 'recorded' as estimated,
    spans.began_job_key,
    part_endings.job_key as end_job_key
from spans
inner join vehicles on spans.vehicle_key = vehicles.vehicle_key
inner join vehicle_record on spans.vehicle_key = vehicle_record.vehicle_key
inner join exposures on spans.vehicle_key = exposures.vehicle_key
left join part_endings
    on spans.vehicle_key = part_endings.vehicle_key
    and spans.component_key = part_endings.component_key
    and spans.position = part_endings.position
    and spans.end_visit = part_endings.visit
left join inspected
    on spans.vehicle_key = inspected.vehicle_key
    and spans.component_key = inspected.component_key
    and spans.position = inspected.position
    and spans.visit = inspected.visit
left join visits as looks
    on inspected.vehicle_key = looks.vehicle_key and inspected.inspected_visit = looks.visit
where spans.lives_on
order by spans.component_key, spans.vehicle_key, spans.position, spans.visit
