-- One row is: the record as a whole.
-- Reads:      record
-- Parameters: none
-- Columns:    started_on (date); as_of (date)
select started_on, as_of from record
