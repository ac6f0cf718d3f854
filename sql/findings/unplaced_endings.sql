-- One row is: all endings of the components on vehicles kept whose model, by the table fitted, doesn't carry them.
-- Reads:      part_endings, parts, components, vehicles
-- Parameters: components (list of text, null keeps all); models, duties, depots (lists of text, null keeps all)
-- Columns:    endings (count)
select count(*) as endings
from part_endings
inner join components on part_endings.component_key = components.component_key
inner join vehicles on part_endings.vehicle_key = vehicles.vehicle_key
left join parts
    on part_endings.vehicle_key = parts.vehicle_key
    and part_endings.component_key = parts.component_key
    and part_endings.position = parts.position
where
    parts.vehicle_key is null
    and (cast($components as varchar[]) is null or list_contains($components, components.component))
    and (cast($models as varchar[]) is null or list_contains($models, vehicles.model))
    and (cast($duties as varchar[]) is null or list_contains($duties, vehicles.duty))
    and (cast($depots as varchar[]) is null or list_contains($depots, vehicles.depot))
