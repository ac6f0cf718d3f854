"""The vans: who they are, when they serve, and how far they have run on any day."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from fleetlens.sample import scenario
from fleetlens.sample.chance import Bools, Chance, Floats, Ints

EPOCH = date(1970, 1, 1)


def day_number(day: date) -> int:
    """Days since 1970-01-01."""
    return (day - EPOCH).days


RECORD_FROM = day_number(scenario.RECORD_FROM)
RECORD_END = day_number(scenario.RECORD_TO) + 1  # the first day after the record

_QUARTER = 91
_DAY_STRIDE = float(1 << 13)  # more days than any van serves
KM_STRIDE = float(1 << 22)  # more km than any van runs


@dataclass(frozen=True, slots=True)
class Fleet:
    """Vans, one per row of each array; days since 1970, km on the odometer.

    `number` is the van's number in the whole fleet, from 1: the key of its draws. `seen_from` is the day from which its
    jobs are recorded, `until` the first day they no longer are; `end_km` the odometer then.
    """

    number: Ints
    model: Ints
    duty: Ints
    depot: Ints
    in_service: Ints
    in_service_km: Floats
    seen_from: Ints
    until: Ints
    left: Bools
    late: Bools
    programme: Bools
    end_km: Floats
    _knot_day: Floats
    _knot_km: Floats
    _knot_van: Ints

    def odometer(self, van: Ints, day: Floats) -> Floats:
        """The true odometer of `van` (row number) at the moment `day`, in km."""
        found: Floats = np.interp(
            van * _DAY_STRIDE + (day - self.in_service[van]),
            self._knot_van * _DAY_STRIDE + self._knot_day,
            self._knot_km,
        )
        return found

    def day_of(self, van: Ints, km: Floats) -> Floats:
        """The moment at which `van` (row number) has `km` on its odometer."""
        found: Floats = np.interp(van * KM_STRIDE + km, self._knot_van * KM_STRIDE + self._knot_km, self._knot_day)
        return found + self.in_service[van]


def build(chance: Chance, first: int, count: int) -> Fleet:
    """The vans numbered `first` to `first + count - 1`."""
    number = np.arange(first, first + count, dtype=np.int64)
    model = chance.pick([model.weight for model in scenario.MODELS], "model", number)
    duty = chance.pick([duty.weight for duty in scenario.DUTIES], "duty", number)
    depot = chance.pick([depot.weight for depot in scenario.DEPOTS], "depot", number)

    group = chance.uniform("group", number)
    before = group < scenario.BEFORE_RECORD
    taken = ~before & (group < scenario.BEFORE_RECORD + scenario.TAKEN_OVER)
    depot[taken] = scenario.TAKEOVER_DEPOT
    joined = np.select(
        [before, taken],
        [
            chance.between(day_number(date(2018, 1, 1)), RECORD_FROM - 30, "joined", number),
            chance.between(day_number(date(2019, 1, 1)), day_number(date(2021, 12, 1)), "joined", number),
        ],
        chance.between(RECORD_FROM, day_number(date(2026, 1, 1)), "joined", number),
    )
    in_service = np.floor(joined).astype(np.int64)
    seen_from = np.select([before, taken], [RECORD_FROM, day_number(scenario.TAKEOVER_ON)], in_service)
    used = chance.happens(scenario.SECOND_HAND, "second-hand", number)
    in_service_km = np.where(
        used, chance.between(18_000, 90_000, "used km", number), chance.between(4, 50, "new km", number)
    ).round()

    leaving = np.floor(chance.between(seen_from + 400.0, RECORD_END - 10.0, "leaving day", number))
    left = chance.happens(scenario.LEAVES, "leaves", number) & (seen_from + 420 < RECORD_END)
    until = np.where(left, leaving.astype(np.int64), RECORD_END)

    # Usage: each quarter of a van's life has its own pace around the van's own yearly distance.
    per_year = np.array([duty.km_per_year for duty in scenario.DUTIES])[duty]
    per_day = per_year / 365.25 * np.exp(0.18 * chance.normal("pace", number))
    quarters = int((RECORD_END - in_service.min()) // _QUARTER) + 2
    van, quarter = np.divmod(np.arange(count * quarters, dtype=np.int64), quarters)
    pace = np.exp(0.13 * chance.normal("quarter", number[van], quarter))
    idle = chance.happens(0.02, "idle quarter", number[van], quarter)
    run = (per_day[van] * _QUARTER * np.where(idle, 0.15, pace)).reshape(count, quarters)
    knot_km = in_service_km[:, None] + np.concatenate([np.zeros((count, 1)), np.cumsum(run, axis=1)[:, :-1]], axis=1)

    fleet = Fleet(
        number=number, model=model, duty=duty, depot=depot, in_service=in_service, in_service_km=in_service_km,
        seen_from=seen_from, until=until, left=left, late=before | taken,
        programme=np.array([depot.programme for depot in scenario.DEPOTS])[depot]
        & chance.happens(scenario.PROGRAMME_SHARE, "programme", number),
        end_km=np.zeros(count), _knot_day=(quarter * _QUARTER).astype(np.float64),
        _knot_km=knot_km.ravel(), _knot_van=van,
    )  # fmt: skip
    fleet.end_km[:] = fleet.odometer(np.arange(count), until.astype(np.float64))
    return fleet
