-- One row is: a file of a load.
-- Reads:      loads, load_files
-- Parameters: none
-- Columns:    load_id; loaded_at (UTC); path; table_name; rows_in; accepted; repeated; refused; replaced; sha256
select
    loads.load_id,
    loads.loaded_at,
    load_files.path,
    load_files.table_name,
    load_files.rows_in,
    load_files.accepted,
    load_files.repeated,
    load_files.refused,
    load_files.replaced,
    load_files.sha256
from loads
inner join load_files on loads.load_id = load_files.load_id
order by loads.load_id desc, load_files.path, load_files.table_name, load_files.sha256
