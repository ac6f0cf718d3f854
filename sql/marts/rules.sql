-- One row is: the switchable rules as this store has them set.
-- Reads:      settings
-- Parameters: none
-- Columns:    leave_out_copies (a job written down twice counts once); cancel_credits (a part credited was never fitted); join_supplements (a job opened on a vehicle that wasn't driven since its repair belongs to that repair)
select
    coalesce(max(value) filter (where name = 'copied_jobs'), 'leave-out') = 'leave-out' as leave_out_copies,
    coalesce(max(value) filter (where name = 'credits'), 'cancel') = 'cancel' as cancel_credits,
    coalesce(max(value) filter (where name = 'supplements'), 'join') = 'join' as join_supplements
from settings
