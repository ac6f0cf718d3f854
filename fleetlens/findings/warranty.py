"""Parts that failed inside their own term: what could be claimed, with the evidence a claim needs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.grouping import chosen
from fleetlens.findings.life_table import kept_components
from fleetlens.store.preferences import Preferences
from fleetlens.store.reader import Snapshot

__all__ = ["WARRANTY_KEYS", "Term", "Terms", "warranty_claims", "warranty_totals"]

WARRANTY_KEYS = ("part_grade", "model", "duty", "depot")
MOST_MONTHS = 240


@dataclass(frozen=True, slots=True)
class Term:
    """How long a part is under warranty from the day it was fitted: months, km, or whichever comes first.

    Raises FleetlensError for a term that holds nothing.
    """

    months: int | None = None
    km: float | None = None

    def __post_init__(self) -> None:
        if self.months is None and self.km is None:
            raise FleetlensError("a term needs months or km", do="such as 24 months, 100,000 km, or both")
        if self.months is not None and not 1 <= self.months <= MOST_MONTHS:
            raise FleetlensError(f"a term can't be {self.months} months", do=f"1 to {MOST_MONTHS} months")
        if self.km is not None and not 0 < self.km < float("inf"):
            raise FleetlensError(f"a term can't be {self.km:g} km", do="a distance above 0 km")

    def __str__(self) -> str:
        parts = [f"{self.months} months"] if self.months is not None else []
        return " or ".join([*parts, *([f"{self.km:,.0f} km"] if self.km is not None else [])])


@dataclass(frozen=True, slots=True)
class Terms:
    """The term of every part: by component, else by part grade, else the general one.

    Job histories carry no terms: they are the user's. 24 months is common practice, no source.
    """

    general: Term = Term(months=24)
    named: Mapping[str, Term] = field(default_factory=dict)

    @classmethod
    def preferred(
        cls, preferences: Preferences, general: Term | None = None, named: Mapping[str, Term] | None = None
    ) -> "Terms":
        """The terms that are given, else those of the workshop's preferences, else 24 months."""
        own = {
            name: Term(prices.warranty_months, prices.warranty_km)
            for name, prices in preferences.component.items()
            if prices.warranty_months is not None or prices.warranty_km is not None
        }
        return cls(general or cls().general, own | dict(named or {}))

    def __str__(self) -> str:
        told = [f"{name} {term}" for name, term in sorted(self.named.items())]
        return "; ".join([*told, f"{'all others' if told else 'all parts'} {self.general}"])


def warranty_claims(
    snapshot: Snapshot,
    component: str | None = None,
    terms: Terms = Terms(),
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The failures of parts that jobs had fitted, inside the parts' terms, the latest first.

    A part is followed from the job that fitted it until it is replaced or removed; a cleaning between leaves its term
    running. The term runs from the day the fitting job was closed, else opened, to the same day of the month.
    `claim_value` is labour and parts of the failing job's rows on the part. `odometers` says whether both are recorded;
    a part whose distance is unknown is judged by its months, and left out where its term is in km alone. Raises
    FleetlensError for a component or filter value that the store doesn't know.
    """
    return _claims(snapshot, component, terms, filters)[0]


def _claims(snapshot: Snapshot, component: str | None, terms: Terms, filters: Filters) -> tuple[Finding, list[str]]:
    """The failures inside the terms, and the components to tell of."""
    components = kept_components(snapshot, component, filters)
    found = _with_terms(snapshot.frame("findings/part_failures", components=components, **filters.bound()), terms)
    inside = found.filter(_inside("failed_on", "km"))
    unknown = found.filter(pl.col("term_km").is_not_null() & pl.col("term_months").is_null() & pl.col("km").is_null())
    rows = inside.sort("failed_on", "vehicle_id", "component", "position", descending=[True, False, False, False])
    rows = rows.select(
        *("vehicle_id", "component", "position", "part_number", "part_grade"),
        *("fitted_on", "fitted_km", "failed_on", "failed_km", "days", "km"),
        term=pl.col("term"),
        odometers=_odometers(),
        found="found",
        parts_cost="parts_cost",
        labour_cost="labour_cost",
        claim_value=_sum("parts_cost", "labour_cost"),
        fit_job_id="fit_job_id",
        fail_job_id="fail_job_id",
        model="model",
        duty="duty",
        depot="depot",
    )
    guessed = rows.filter(pl.col("odometers") != BOTH_RECORDED).height
    notes = []
    if guessed:
        notes.append(
            f"{guessed:,} of {rows.height:,} failures rest on an odometer that isn't recorded: look for a reading "
            "before claiming."
        )
    told = _finding(
        snapshot,
        "failures inside the parts' terms",
        rows,
        terms,
        filters,
        counted=(
            Count("of parts that jobs had fitted", found.height, "failures"),
            Count("inside their term", rows.height, "failures"),
        ),
        excluded=evidence.some(unknown.height, "their term is in km and their distance is unknown", "failures"),
        notes=tuple(notes),
    )
    return told, components or found["component"].unique().sort().to_list()


def warranty_totals(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("part_grade",),
    terms: Terms = Terms(),
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """By component and `by`: parts fitted, those that failed inside their term, those still in it, and the money.

    `in_term` are parts still fitted and inside their term: they may fail in it yet. Without a component named, only
    those are told of which a part has failed since a job fitted it. Raises FleetlensError as `warranty_claims` does,
    and for a key outside WARRANTY_KEYS.
    """
    keys = ["component", *chosen(by, WARRANTY_KEYS)]
    claims, components = _claims(snapshot, component, terms, filters)
    parts = snapshot.frame("findings/parts_fitted", components=components, **filters.bound())
    parts = _with_terms(parts, terms).with_columns(km=pl.col("seen_to_km") - pl.col("fitted_km"))
    fitted = parts.group_by(keys).agg(fitted=pl.len(), in_term=(pl.col("on_vehicle") & _inside("seen_to", "km")).sum())
    part = pl.struct("fit_job_id", "component", "position")
    failed = claims.rows.group_by(keys).agg(
        parts_failed=part.n_unique(),
        in_term_failures=pl.len(),
        unproven=(pl.col("odometers") != BOTH_RECORDED).sum(),
        parts_cost=_total("parts_cost"),
        labour_cost=_total("labour_cost"),
        claim_value=_total("claim_value"),
    )
    counts = ("parts_failed", "in_term_failures", "unproven")
    rows = (
        fitted.join(failed, on=keys, how="left", nulls_equal=True)
        .with_columns(pl.col(*counts).fill_null(0))
        .select(*keys, "fitted", "in_term", *counts, "parts_cost", "labour_cost", "claim_value")
        .sort("claim_value", *keys, descending=[True, *(False for _ in keys)], nulls_last=True)
    )
    return _finding(
        snapshot,
        "warranty",
        rows,
        terms,
        filters,
        counted=(Count("that jobs fitted", parts.height, "parts"), *claims.counted),
        excluded=claims.excluded,
        notes=claims.notes,
    )


BOTH_RECORDED = "both recorded"


def _with_terms(rows: pl.DataFrame, terms: Terms) -> pl.DataFrame:
    """The rows with their term: months, km (null where it has none), and in words."""
    names = pl.coalesce(
        *(pl.when(pl.col(key).is_in(list(terms.named))).then(pl.col(key)) for key in ("component", "part_grade")),
        pl.lit(""),
    )
    every = {"": terms.general, **terms.named}
    table = pl.DataFrame(
        {
            "term_name": list(every),
            "term_months": [term.months for term in every.values()],
            "term_km": [term.km for term in every.values()],
            "term": [str(term) for term in every.values()],
        },
        schema_overrides={"term_months": pl.Int64, "term_km": pl.Float64},
    )
    return rows.with_columns(term_name=names).join(table, on="term_name", how="left", maintain_order="left")


def _inside(until: str, km: str) -> pl.Expr:
    """Whether the day and the distance lie in the term; a distance that isn't known is left to the months."""
    ends = pl.col("fitted_on").dt.offset_by(pl.format("{}mo", pl.col("term_months").fill_null(0)))
    in_months = pl.col("term_months").is_null() | (pl.col(until) <= ends)
    in_km = pl.col("term_km").is_null() | (pl.col(km) <= pl.col("term_km"))
    return in_months & in_km.fill_null(pl.col("term_months").is_not_null())


def _odometers() -> pl.Expr:
    kinds = pl.concat_list("fitted_km_is", "failed_km_is")
    return (
        pl.when(pl.col("km").is_null())
        .then(pl.lit("unknown"))
        .when(kinds.list.eval(pl.element() == "recorded").list.all())
        .then(pl.lit(BOTH_RECORDED))
        .otherwise(pl.lit("estimated"))
    )


def _sum(first: str, second: str) -> pl.Expr:
    """Both amounts together, null where neither is known."""
    known = pl.col(first).is_not_null() | pl.col(second).is_not_null()
    return pl.when(known).then(pl.col(first).fill_null(0) + pl.col(second).fill_null(0))


def _total(name: str) -> pl.Expr:
    return pl.when(pl.col(name).count() > 0).then(pl.col(name).sum())


def _finding(
    snapshot: Snapshot,
    question: str,
    rows: pl.DataFrame,
    terms: Terms,
    filters: Filters,
    *,
    counted: tuple[Count, ...],
    excluded: tuple[Count, ...],
    notes: tuple[str, ...],
) -> Finding:
    source = " 24 months is common practice, no source." if terms.general == Terms().general else ""
    return Finding(
        question=question,
        rows=rows,
        method=(
            "A part that a job fitted and that failed inside its term, counted from the day that job was closed, else "
            f"opened, and from its odometer. Value: labour and parts of the failing job's rows on the part, credits "
            f"netted. Terms: {terms}.{source}"
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=counted,
        excluded=excluded,
        assumed=(
            "The record carries no terms: check each part's own. Labour, cleaned parts and wear may not be covered.",
            "Parts that came with the vehicle aren't counted: their term is the vehicle's.",
            *evidence.readings(snapshot, filters),
            *evidence.text_rows(snapshot),
        ),
        notes=notes,
        filters=filters.named(),
    )
