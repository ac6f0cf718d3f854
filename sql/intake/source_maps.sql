-- One row is: a column map that the store remembers for files with one shape of header.
-- Reads:      source_maps
-- Parameters: none
-- Columns:    header_shape (hash of the sorted names); name; toml (the map); remembered_at (UTC)
select header_shape, name, toml, remembered_at
from source_maps
order by remembered_at desc, name, header_shape
