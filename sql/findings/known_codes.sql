-- One row is: a code that the store has seen.
-- Reads:      codes
-- Parameters: none
-- Columns:    code
select code from codes order by code
