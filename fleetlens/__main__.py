"""`python -m fleetlens` does what `fleetlens` does."""

from fleetlens.cli.entry import main

main()
