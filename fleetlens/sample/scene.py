"""Everything that happened to one batch of vans, for those who write it down."""

from dataclasses import dataclass

import numpy as np

from fleetlens.sample import fleet, jobs, lives, symptoms, visits
from fleetlens.sample.chance import Chance, Ints
from fleetlens.sample.fleet import Fleet
from fleetlens.sample.jobs import Jobs
from fleetlens.sample.lives import Lives
from fleetlens.sample.visits import Visits
from fleetlens.sample.words import SMALL_REPAIRS


@dataclass(frozen=True, slots=True)
class Scene:
    """A batch of vans with its visits, lives, codes of failures (places in symptoms.CODES, -1: none) and jobs."""

    chance: Chance
    fleet: Fleet
    visits: Visits
    lives: Lives
    code: Ints
    jobs: Jobs

    def life_keys(self) -> tuple[Ints, ...]:
        """The keys of each life's own draws."""
        return self.lives.keys(self.fleet)

    def job_keys(self) -> tuple[Ints, ...]:
        """The keys of each job's own draws."""
        return self.fleet.number[self.jobs.van], self.jobs.nth

    def small_repair(self) -> Ints:
        """What each job repairs (row of SMALL_REPAIRS) if it is a small repair."""
        return self.chance.pick([1.0] * len(SMALL_REPAIRS), "small repair", *self.job_keys())

    def job_of_life(self, source: int) -> Ints:
        """The row of each life's job of this source; -1 where the record has none."""
        return self.jobs.row_of(source, self.lives.van.size)

    def job_of_visit(self) -> Ints:
        """The row of each planned visit's job; -1 where the record has none."""
        return self.jobs.row_of(jobs.VISIT, self.visits.van.size)

    def visit_job_of_life(self) -> Ints:
        """The row of the job of the planned visit at which each life ended; -1 where there is none."""
        if not self.visits.van.size:
            return np.full(self.lives.van.size, -1, np.int64)
        return np.where(self.lives.visit >= 0, self.job_of_visit()[self.lives.visit], -1)


def play(chance: Chance, first: int, count: int) -> Scene:
    """What happened to the vans numbered `first` to `first + count - 1`."""
    vans = fleet.build(chance, first, count)
    planned = visits.plan(chance, vans)
    lived = lives.simulate(chance, vans, planned)
    code = symptoms.of_failures(chance, vans, lived)
    return Scene(chance, vans, planned, lived, code, jobs.build(chance, vans, planned, lived, code >= 0))
