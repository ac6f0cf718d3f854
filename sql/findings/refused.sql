-- One row is: a rule that a refused row broke.
-- Reads:      refused_rows
-- Parameters: none
-- Columns:    load_id; path; table_name; row; column; value; rule; reason
select load_id, path, table_name, "row", "column", value, rule, reason
from refused_rows
order by load_id desc, path, "row", "column", rule
