-- One row is: a load, with the share of its rows that were refused.
-- Reads:      loads
-- Parameters: none
-- Columns:    load_id; loaded_at (UTC); rows_in; accepted; repeated; refused; share_refused (null where no row came)
select
    load_id,
    loaded_at,
    rows_in,
    accepted,
    repeated,
    refused,
    case when rows_in > 0 then cast(refused as double) / rows_in end as share_refused
from loads
order by load_id
