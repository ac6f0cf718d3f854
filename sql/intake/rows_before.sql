-- One row is: a load of this very file (by the hash of its content) into this table, the last one first.
-- Reads:      load_files
-- Parameters: sha256 (text), table_name (text)
-- Columns:    load_id; rows_in (count)
select load_id, max(rows_in) as rows_in
from load_files
where sha256 = $sha256 and table_name = $table_name
group by load_id
order by load_id desc
limit 1
