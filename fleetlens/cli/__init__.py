"""The command line: one thin command per question."""

from fleetlens.cli.entry import app, main

__all__ = ["app", "main"]
