"""Invented exports: the histories of one fleet in the shapes that workshops' own files have."""

from fleetlens.sample.exports.make import write_exports

__all__ = ["write_exports"]
