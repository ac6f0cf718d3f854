-- One row is: a part that a job fitted on a vehicle kept, with how long it has been under observation since.
-- Reads:      part_endings, visits, vehicles, components, vehicle_record, exposures, jobs
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    component; position; part_grade; model; duty; depot; fitted_on (date the fitting job was closed, else opened); fitted_km; seen_to (date until which it was seen: replaced, removed, or the end of the record); seen_to_km (odometer on that day, null where unknown); on_vehicle (still fitted at the end of the record); fit_job_id; vehicle_id
with changes as (
    select
        part_endings.vehicle_key,
        part_endings.component_key,
        part_endings.position,
        part_endings.job_key,
        part_endings.km,
        part_endings.part_grade,
        part_endings.visit,
        part_endings.began_as,
        lead(part_endings.job_key) over places as gone_job_key,
        lead(part_endings.km) over places as gone_km
    from part_endings
    where part_endings.began_as = 'replaced' or part_endings.ended = 'removed'
    window places as (
        partition by part_endings.vehicle_key, part_endings.component_key, part_endings.position
        order by part_endings.visit
    )
)

select
    components.component,
    changes.position,
    changes.part_grade,
    vehicles.model,
    vehicles.duty,
    vehicles.depot,
    coalesce(visits.closed_on, visits.opened_on) as fitted_on,
    changes.km as fitted_km,
    coalesce(gone.opened_on, vehicle_record.record_to) as seen_to,
    case when gone.job_key is not null then changes.gone_km else exposures.to_km end as seen_to_km,
    gone.job_key is null as on_vehicle,
    jobs.job_id as fit_job_id,
    vehicles.vehicle_id
from changes
inner join visits on changes.job_key = visits.job_key
inner join jobs on changes.job_key = jobs.job_key
inner join vehicles on changes.vehicle_key = vehicles.vehicle_key
inner join vehicle_record on changes.vehicle_key = vehicle_record.vehicle_key
inner join exposures on changes.vehicle_key = exposures.vehicle_key
inner join components on changes.component_key = components.component_key
left join visits as gone on changes.gone_job_key = gone.job_key
where
    changes.began_as = 'replaced'
    and (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
order by vehicles.vehicle_id, components.component, changes.position, fitted_on, jobs.job_id
