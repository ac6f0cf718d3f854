-- One row is: a component that some job has cleaned.
-- Reads:      part_endings, components
-- Parameters: none
-- Columns:    component
select distinct components.component
from part_endings
inner join components on part_endings.component_key = components.component_key
where part_endings.began_as = 'cleaned'
order by components.component
