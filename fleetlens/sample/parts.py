"""The components that fail in the invented fleet: their true lives, remedies, prices, codes and measurements.

Lives are Weibull in km: the shape is the component's, the characteristic life is
`scale_km` x model x duty x how the life began x grade of the part. Everything here is invented.
"""

from dataclasses import dataclass

from fleetlens.sample.scenario import DUTIES, MODELS

CLEAN, REPLACE, REPAIR = 0, 1, 2
ACTIONS = ("clean", "replace", "repair")

NEW, REPLACED, CLEANED, REPAIRED = 0, 1, 2, 3
BEGAN_AS = ("new", "replaced", "cleaned", "repaired")
BEGINS = (CLEANED, REPLACED, REPAIRED)
"""How the next life begins, by the action that began it."""

ORIGINAL, EQUIVALENT, RECONDITIONED = 0, 1, 2
GRADES = ("original", "equivalent", "reconditioned")
PRICE_OF_GRADE = (1.0, 0.6, 0.55)
RECONDITIONED_SHARE = 0.08

CARBON_BY_DUTY = (0.86, 1.24, 0.78, 0.95)
EVEN_BY_DUTY = (1.0, 1.0, 1.0, 1.0)
EVEN_BY_MODEL = (1.0, 1.0, 1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Measure:
    """A measurement at diagnosis: what the limits are, and the range that a failed component shows."""

    check: str
    unit: str
    low: float
    high: float
    failed: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Part:
    """A followed component.

    `by_model` 0: the model doesn't carry it. `cleaned`, `repaired`, `equivalent`, `reconditioned` multiply the
    characteristic life. `choices` are the shares of clean, replace, repair at a failure, `after_clean` the same where
    the failed life began with a cleaning. `hidden`: share of failures no driver notices, found at the next visit that
    looks. `wrong`: share of failures first treated as something else, by one of `remedies`. `planned_km`: age at which
    the programme renews it (0: never), by the action `planned`. `silent`: share of failures that set no code. `warns`:
    chance of a pending code at a visit shortly before. `price` and `gaskets` in currency, `hours` of clean, replace,
    repair.
    """

    component: str
    shape: float
    scale_km: float
    by_model: tuple[float, ...] = EVEN_BY_MODEL
    by_duty: tuple[float, ...] = EVEN_BY_DUTY
    count: int = 1
    cleaned: float = 1.0
    repaired: float = 1.0
    equivalent: float = 0.88
    reconditioned: float = 0.80
    choices: tuple[float, float, float] = (0.0, 1.0, 0.0)
    after_clean: tuple[float, float, float] = (0.0, 1.0, 0.0)
    breakdown: float = 0.4
    hidden: float = 0.0
    wrong: float = 0.0
    remedies: tuple[tuple[str, str], ...] = ()
    planned_km: float = 0.0
    planned: int = CLEAN
    codes: tuple[tuple[str, float], ...] = ()
    silent: float = 0.06
    warns: float = 0.0
    price: float = 0.0
    hours: tuple[float, float, float] = (0.0, 1.0, 0.0)
    gaskets: float = 0.0
    relearn: bool = False
    measure: Measure | None = None

    def factor(self, began: int, grade: int) -> float:
        """What the beginning of a life and, for a replaced part, its grade make of the characteristic life."""
        if began == REPLACED:
            return (1.0, self.equivalent, self.reconditioned)[grade]
        return (1.0, 1.0, self.cleaned, self.repaired)[began]

    def life_km(self, model: int, duty: int, began: int, grade: int) -> float:
        """The true characteristic life in km; 0 where the model doesn't carry the component."""
        return self.scale_km * self.by_model[model] * self.by_duty[duty] * self.factor(began, grade)

    def begins(self) -> tuple[tuple[int, int], ...]:
        """The (began as, grade) pairs that its lives can have."""
        used = [max(shares) for shares in zip(self.choices, self.after_clean, strict=True)]
        pairs = [(NEW, ORIGINAL)]
        if used[REPLACE]:
            pairs += [(REPLACED, grade) for grade in (ORIGINAL, EQUIVALENT, RECONDITIONED)]
        if used[CLEAN]:
            pairs.append((CLEANED, ORIGINAL))
        if used[REPAIR]:
            pairs.append((REPAIRED, ORIGINAL))
        return tuple(pairs)


# A component stands after those whose wrong first remedy touches it: lives are simulated in this order.
PARTS = (
    Part(
        "egr_cooler", 3.0, 175_000, (1.0, 0.85, 1.1, 0.95, 1.15), CARBON_BY_DUTY,
        cleaned=0.70, choices=(0.4, 0.6, 0.0), after_clean=(0.15, 0.85, 0.0), breakdown=0.35, hidden=0.20,
        wrong=0.14, remedies=(("egr_valve", "clean"), ("maf_sensor", "clean"), ("engine_ecu", "software")),
        codes=(("P0401", 0.4), ("P2457", 0.4), ("P0404", 0.2)), warns=0.3,
        price=390.0, hours=(3.2, 3.6, 0.0), gaskets=11.0,
        measure=Measure("pressure_loss_in_10_min", "kPa", 0.0, 5.0, (8.0, 60.0)),
    ),
    Part(
        "boost_hose", 1.5, 250_000, by_duty=(1.0, 1.1, 1.0, 0.85),
        repaired=0.35, equivalent=0.8, choices=(0.0, 0.85, 0.15), breakdown=0.5, hidden=0.10,
        wrong=0.16, remedies=(("turbo_vanes", "clean"), ("egr_valve", "clean"), ("map_sensor", "replace")),
        codes=(("P0299", 0.6), ("P0401", 0.15), ("P2263", 0.15), ("P2279", 0.1)),
        price=58.0, hours=(0.0, 0.8, 0.5),
        measure=Measure("boost_pressure", "kPa", 180.0, 230.0, (110.0, 170.0)),
    ),
    Part(
        "wiring", 1.0, 430_000, choices=(0.0, 0.0, 1.0), after_clean=(0.0, 0.0, 1.0), breakdown=0.45,
        wrong=0.16, remedies=(("egr_valve", "clean"), ("egr_actuator", "replace"), ("engine_ecu", "software")),
        codes=(("P0405", 0.3), ("P0406", 0.2), ("P0403", 0.2), ("P0404", 0.15), ("P0641", 0.15)),
        price=14.0, hours=(0.0, 0.0, 1.4),
        measure=Measure("reference_voltage", "V", 4.75, 5.25, (0.0, 4.2)),
    ),
    Part(
        "egr_valve", 3.2, 112_000, (1.1, 0.8, 1.0, 0.9, 1.2), CARBON_BY_DUTY,
        cleaned=0.72, choices=(0.6, 0.4, 0.0), after_clean=(0.35, 0.65, 0.0), breakdown=0.6,
        wrong=0.06, remedies=(("maf_sensor", "clean"), ("egr_solenoid", "replace")), planned_km=50_000,
        codes=(("P0401", 0.4), ("P0404", 0.25), ("P0402", 0.1), ("P042E", 0.1), ("P049D", 0.1), ("P0400", 0.05)),
        warns=0.4, price=340.0, hours=(1.6, 1.8, 0.0), gaskets=11.0, relearn=True,
        measure=Measure("closed_signal", "V", 0.5, 1.0, (1.1, 1.7)),
    ),
    Part(
        "dpf", 3.6, 185_000, (1.0, 0.9, 1.05, 1.0, 1.1), CARBON_BY_DUTY,
        cleaned=0.78, equivalent=0.85, choices=(0.5, 0.5, 0.0), after_clean=(0.25, 0.75, 0.0), breakdown=0.55,
        wrong=0.06, remedies=(("dpf_pressure_pipes", "clean"), ("engine_ecu", "software")), planned_km=90_000,
        codes=(("P242F", 0.4), ("P2463", 0.3), ("P2002", 0.1), ("P2458", 0.1), ("P244B", 0.1)),
        warns=0.4, price=880.0, hours=(3.0, 2.4, 0.0), gaskets=11.0, relearn=True,
        measure=Measure("pressure_difference_idle", "kPa", 0.0, 2.5, (3.0, 9.0)),
    ),
    Part(
        "intake_manifold", 2.5, 190_000, (0.9, 1.0, 1.15, 1.0, 0.95), CARBON_BY_DUTY,
        cleaned=0.80, choices=(0.8, 0.2, 0.0), after_clean=(0.6, 0.4, 0.0), breakdown=0.25, hidden=0.15,
        codes=(("P0401", 0.3), ("P006A", 0.4), ("P0101", 0.3)), warns=0.25,
        price=310.0, hours=(4.2, 3.8, 0.0), gaskets=11.0,
    ),
    Part(
        "turbo_vanes", 2.1, 205_000, (0.0, 0.9, 1.0, 1.1, 1.0), CARBON_BY_DUTY,
        cleaned=0.75, repaired=0.85, choices=(0.65, 0.0, 0.35), after_clean=(0.3, 0.0, 0.7), breakdown=0.6,
        codes=(("P0299", 0.5), ("P0234", 0.3), ("P2263", 0.2)), warns=0.2,
        price=120.0, hours=(4.5, 0.0, 5.5), gaskets=11.0,
        measure=Measure("boost_pressure", "kPa", 180.0, 230.0, (110.0, 170.0)),
    ),
    Part(
        "egt_sensor", 1.0, 330_000, equivalent=0.6, breakdown=0.15,
        codes=(("P0544", 0.3), ("P0545", 0.25), ("P0546", 0.25), ("P2080", 0.2)), silent=0.0,
        price=74.0, hours=(0.0, 0.9, 0.0),
    ),
    Part(
        "dpf_pressure_sensor", 0.7, 620_000, equivalent=0.6, breakdown=0.15,
        codes=(("P2453", 0.4), ("P2452", 0.3), ("P2454", 0.15), ("P2455", 0.15)), silent=0.0,
        price=62.0, hours=(0.0, 0.7, 0.0), relearn=True,
        measure=Measure("pressure_difference_engine_off", "kPa", -0.2, 0.2, (0.5, 3.0)),
    ),
    Part(
        "glow_plug", 1.0, 900_000, count=4, breakdown=0.1, silent=0.0, planned_km=100_000, planned=REPLACE,
        price=19.0, hours=(0.0, 0.9, 0.0), measure=Measure("resistance", "ohm", 0.4, 1.5, (20.0, 900.0)),
    ),
    Part(
        "battery", 2.0, 185_000, by_duty=(0.85, 1.5, 0.6, 0.8), equivalent=0.8, breakdown=0.8,
        codes=(("P0562", 0.7), ("P0560", 0.3)), silent=0.3, price=118.0, hours=(0.0, 0.5, 0.0),
        measure=Measure("rest_voltage", "V", 12.4, 12.9, (9.5, 12.1)),
    ),
    Part(
        "alternator", 1.0, 390_000, equivalent=0.8, breakdown=0.8,
        codes=(("P0562", 0.7), ("P0563", 0.3)), silent=0.1, price=240.0, hours=(0.0, 1.5, 0.0),
        measure=Measure("charging_voltage", "V", 13.8, 14.8, (11.8, 13.3)),
    ),
    Part(
        "brakes", 3.5, 72_000, by_duty=(0.8, 1.6, 1.1, 0.9), breakdown=0.05, hidden=0.5, silent=1.0,
        price=96.0, hours=(0.0, 1.3, 0.0),
        measure=Measure("pad_thickness_front", "mm", 3.0, 14.0, (0.8, 2.8)),
    ),
)  # fmt: skip

COMPONENTS = tuple(part.component for part in PARTS)
GLOW_PLUG_CODES = ("P0671", "P0672", "P0673", "P0674")

assert all(len(part.by_model) == len(MODELS) and len(part.by_duty) == len(DUTIES) for part in PARTS)
