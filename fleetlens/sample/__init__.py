"""The invented fleet: a generator with known truth."""

from fleetlens.sample.make import SampleReport, make_sample

__all__ = ["SampleReport", "make_sample"]
