"""The advice tried on the past: what was told then, against what happened since."""
