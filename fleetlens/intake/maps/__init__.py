"""Column maps: which column of a workshop's own export is which of ours; suggested, written, remembered, applied."""
