-- One row is: a value by which a question can be narrowed.
-- Reads:      vehicles, parts, components
-- Parameters: none
-- Columns:    filter (model, duty, depot or component); value
select 'model' as filter, model as value from vehicles where model is not null
union
select 'duty' as filter, duty as value from vehicles where duty is not null
union
select 'depot' as filter, depot as value from vehicles where depot is not null
union
select 'component' as filter, components.component as value
from parts
inner join components on parts.component_key = components.component_key
order by filter, value
