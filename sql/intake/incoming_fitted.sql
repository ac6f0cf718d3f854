-- One row is: a component that a model carries, of this load.
-- Reads:      staged_fitted, components
-- Parameters: none
-- Columns:    place; known; model; component_key; count
select staged_fitted.place, staged_fitted.known, staged_fitted.model, components.component_key, staged_fitted."count"
from staged_fitted
inner join components on staged_fitted.component = components.component
