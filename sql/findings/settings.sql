-- One row is: a setting of the store.
-- Reads:      settings
-- Parameters: none
-- Columns:    name; value
select name, value from settings
order by name
