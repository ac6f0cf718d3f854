"""Job lines: what a technician's sentence says was read, found and done, and which words say so."""
