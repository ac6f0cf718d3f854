"""On generated fleets pairs of codes, and what goes before what, are those that a plain count by hand gives."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date
from itertools import combinations
from typing import Any

from findings.by_hand import FAULT, Fleet, Row, day_of
from findings.direct import snapshot_of
from findings.test_by_hand import fleets, near, thorough
from findings.test_trends_by_hand import begun, failed
from hypothesis import given
from hypothesis import strategies as st

FILTERS = {"models": None, "duties": None, "depots": None}
WINDOWS = st.sampled_from([(60, False), (13, False), (3000.0, True), (600.0, True)])
ASKED = st.sampled_from([("component", "egr_valve"), ("component", "turbo"), ("code", "P0401")])


def visits_looked_at(fleet: Fleet, join_days: int) -> Iterator[list[Row]]:
    """The jobs of each visit at which somebody looked for codes."""
    for vehicle in fleet.vehicles:
        looked = [job for job in fleet.observed(vehicle) if job["reason"] in FAULT or fleet.codes_of(job)]
        visit: list[Row] = []
        for job in looked:
            if visit and (day_of(job["opened_at"]) - day_of(visit[-1]["opened_at"])).days > join_days:
                yield visit
                visit = []
            visit.append(job)
        if visit:
            yield visit


@thorough
@given(fleets(), st.sampled_from([-1, 0, 13, 40]))
def test_pairs_of_codes(fleet: dict[str, Any], join_days: int) -> None:
    by_hand = Fleet(**fleet)
    counts: Counter[tuple[str | None, str | None]] = Counter()
    plain: Counter[tuple[str | None, str | None]] = Counter()
    for visit in visits_looked_at(by_hand, join_days):
        codes = sorted(set().union(*(by_hand.codes_of(job) for job in visit)))
        pairs = [(None, None), *((code, code) for code in codes), *combinations(codes, 2)]
        counts.update(pairs)
        plain.update(pairs if "P2002" not in codes else [])
    counts[None, None] += 0  # a fleet without visits has a row of all of them too
    with snapshot_of(**fleet) as snapshot:
        rows = snapshot.frame(
            "findings/code_pairs", join_days=join_days, supply_codes=["P2002"], components=None, **FILTERS
        )
    assert near(rows.rows()) == near((*pair, visits, plain[pair]) for pair, visits in counts.items())


@thorough
@given(fleets(), st.sampled_from([-1, 13]), st.sampled_from([None, ["P0401"], ["P0401", "P2002"]]))
def test_the_jobs_of_codes_together(fleet: dict[str, Any], join_days: int, names: list[str] | None) -> None:
    by_hand = Fleet(**fleet)
    needed = len(names) if names else 2
    expected = []
    for visit in visits_looked_at(by_hand, join_days):
        codes = set().union(*(by_hand.codes_of(job) for job in visit))
        if len(codes & set(names or codes)) >= needed:
            expected += [
                (job["job_id"], ", ".join(sorted(by_hand.codes_of(job))))
                for job in visit
                if by_hand.codes_of(job) & set(names or codes)
            ]
    with snapshot_of(**fleet) as snapshot:
        rows = snapshot.frame(
            "findings/together_rows", join_days=join_days, names=names, needed=needed, components=None, **FILTERS
        )
    assert near(rows.select("job_id", "codes").rows()) == near(expected)


class Signs:
    """What began when on each vehicle, and the run-ups of what is asked about, in days or km."""

    def __init__(self, fleet: Fleet, asked: tuple[str, str], window: float, *, by_km: bool) -> None:
        self.fleet, self.window, self.by_km = fleet, window, by_km
        order = {job["job_id"]: at for vehicle in fleet.vehicles for at, job in enumerate(fleet.visits(vehicle))}
        happened: dict[tuple[str, str], set[tuple[str, int, str]]] = defaultdict(set)
        for what, kind in ((begun(fleet), "code"), (failed(fleet), "component")):
            for vehicle, job, name in what:
                if not by_km or fleet.km(job) is not None:
                    happened[kind, name].add((vehicle["vehicle_id"], order[job["job_id"]], job["job_id"]))
        self.jobs = {job["job_id"]: job for job in fleet.all_jobs}
        self.asked = sorted(happened.pop(asked, set()))
        concerned = {vehicle for vehicle, _, _ in self.asked}
        at = {job for _, _, job in self.asked}
        self.signs = {
            name: sorted(one for one in found if one[0] in concerned and one[2] not in at)
            for name, found in happened.items()
        }

    def place(self, job_id: str) -> float:
        """When a job was, on the clock that is asked."""
        job = self.jobs[job_id]
        return float(self.fleet.km(job) if self.by_km else day_of(job["opened_at"]).toordinal())

    def record(self, vehicle_id: str) -> tuple[float, float]:
        """Where the vehicle's record begins and ends on that clock."""
        vehicle = next(one for one in self.fleet.vehicles if one["vehicle_id"] == vehicle_id)
        days: tuple[date | None, date | None] = self.fleet.record(vehicle)
        if self.by_km:
            first, last = (self.fleet.usage(vehicle_id, day) for day in days)
            return float(first or 0), float(last or 0)
        return float(days[0].toordinal()), float(days[1].toordinal())

    def run_ups(self) -> Iterator[tuple[str, int, int | None, str, float]]:
        """(vehicle, visit, visit of the one before, job, how far the look back reaches)."""
        for number, (vehicle, visit, job) in enumerate(self.asked):
            earlier = self.asked[number - 1] if number and self.asked[number - 1][0] == vehicle else None
            since = self.place(earlier[2]) if earlier else self.record(vehicle)[0]
            yield vehicle, visit, earlier[1] if earlier else None, job, min(self.window, self.place(job) - since)


@thorough
@given(fleets(), ASKED, WINDOWS)
def test_what_goes_before(fleet: dict[str, Any], asked: tuple[str, str], window: tuple[float, bool]) -> None:
    by_hand = Signs(Fleet(**fleet), asked, window[0], by_km=window[1])
    found = []
    for (kind, name), begins in by_hand.signs.items():
        for vehicle, visit, previous, job, reach in by_hand.run_ups():
            near_by = [
                (kind, name, vehicle, sign, job)
                for of, at, sign in begins
                if of == vehicle
                and (previous is None or at > previous)
                and at < visit
                and reach > 0
                and by_hand.place(job) - by_hand.place(sign) <= window[0]
            ]
            found += [(*one, number == 0) for number, one in enumerate(near_by)]
    with snapshot_of(**fleet) as snapshot:
        rows = snapshot.frame(
            "findings/signs_before_rows", what=asked[0], about=asked[1], window=window[0], by_km=window[1], **FILTERS
        )
    columns = ("sign_is", "sign", "vehicle_id", "sign_job_id", "job_id", "earliest")
    assert near(rows.select(columns).rows()) == near(found)


@thorough
@given(fleets(), ASKED, WINDOWS)
def test_what_chance_would_put_before(
    fleet: dict[str, Any], asked: tuple[str, str], window: tuple[float, bool]
) -> None:
    """Each beginning is thrown at random over its vehicle's record: the chance that none lands in the run-up."""
    by_hand = Signs(Fleet(**fleet), asked, window[0], by_km=window[1])
    run_ups = list(by_hand.run_ups())
    expected = []
    for (kind, name), begins in by_hand.signs.items():
        chance = 0.0
        for vehicle, _, _, _, reach in run_ups:
            number = sum(of == vehicle for of, _, _ in begins)
            first, last = by_hand.record(vehicle)
            if reach > 0 and number and last > first:
                missed = 1.0
                for _ in range(number):
                    missed *= 1 - min(1.0, reach / (last - first))
                chance += 1 - missed
        if begins:
            expected.append((kind, name, len(begins), chance))
    with snapshot_of(**fleet) as snapshot:
        rows = snapshot.frame(
            "findings/signs_before", what=asked[0], about=asked[1], window=window[0], by_km=window[1], **FILTERS
        )
    told = rows.filter(rows["sign"].is_not_null()).select("sign_is", "sign", "begun", "by_chance").rows()
    assert near(told) == near(expected)
    whole = rows.filter(rows["sign"].is_null()).row(0, named=True)
    seen = sum(reach > 0 for *_, reach in run_ups)
    assert (whole["happenings"], whole["happenings"] + whole["unseen"]) == (seen, len(run_ups))
