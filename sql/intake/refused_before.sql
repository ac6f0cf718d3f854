-- One row is: a row that was refused when this very file (by the hash of its content) was last loaded.
-- Reads:      load_files, refused_rows
-- Parameters: sha256 (text), table_name (text)
-- Columns:    row
with last_load as (
    select max(load_id) as load_id from load_files where sha256 = $sha256 and table_name = $table_name
)
select distinct refused_rows."row"
from refused_rows
inner join last_load on refused_rows.load_id = last_load.load_id
where refused_rows.sha256 = $sha256 and refused_rows.table_name = $table_name
order by refused_rows."row"
