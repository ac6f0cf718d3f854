-- One row is: an action that changes a component, with its role in the figures. Other actions change none.
-- Reads:      none
-- Parameters: none
-- Columns:    action; began_as (kind of the life it starts, null where it starts none); repairing (counts as a repair); strength (the highest wins where one job holds several); disabling (takes an emission component out of use)
select action, began_as, repairing, strength, disabling
from (
    values
    ('replace', 'replaced', true, 5, false),
    ('repair', 'repaired', true, 4, false),
    ('clean', 'cleaned', true, 3, false),
    ('adjust', null, true, 2, false),
    ('software', null, true, 1, false),
    ('disable', null, false, 0, true)
) as rules (action, began_as, repairing, strength, disabling)
order by strength desc
