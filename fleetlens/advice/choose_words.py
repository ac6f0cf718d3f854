"""What is said beside clean or replace: the verdict, the part's age, its warranty, and what the trade holds anyway."""

from collections.abc import Iterator, Sequence
from typing import Any

from fleetlens.advice.costs import said
from fleetlens.advice.draws import limits
from fleetlens.advice.options import CLEAN, LEAVE, REPLACE, Option
from fleetlens.findings.lives import ENOUGH_FAILURES
from fleetlens.store.preferences import FILE, ComponentPrices

__all__ = ["about_part", "about_practice", "about_warranty", "fitted_stratum", "verdict"]

_VERDICT = {LEAVE: "leave it", CLEAN: "clean", REPLACE: "replace"}


def fitted_stratum(stratum: dict[str, Any]) -> bool:
    """Whether the life of its new parts rests on enough failures to price by it."""
    return stratum["new_shape"] is not None and stratum["new_failures"] >= ENOUGH_FAILURES


def verdict(
    names: Sequence[str], priced: Sequence[Option], stratum: dict[str, Any], currency: str | None
) -> Iterator[str]:
    """What costs least, if the record can tell, and at which prices that turns."""
    missing = [name for name in names if name not in {option.name for option in priced}]
    why = "; ".join(f"{name}: {_why_not(name, stratum)}" for name in missing)
    if len(priced) < 2:
        yield f"Can't tell: {why}." if why else f"Nothing to choose between: only {names[0]} is left."
        return
    best, second = sorted(priced, key=lambda option: float(option.cost[0]))[:2]
    more = second.cost - best.cost
    low, high = (float(each) for each in limits(more[1:]))
    told = (
        f"it is expected to cost {said(float(more[0]), currency)} less than to {second.name} "
        f"({said(low, currency)} to {said(high, currency)})"
    )
    if low > 0:
        yield f"Verdict: {_VERDICT[best.name]}; {told}."
    else:
        yield f"Verdict: can't tell; to {best.name} seems best, {told}, and these limits include 0."
    if why:
        yield f"Not priced: {why}."
    for option in priced:
        if option.name == LEAVE:
            continue
        price = float(option.flip([other for other in priced if other.name != option.name])[0])
        up_to = f"up to a price of {said(price, currency)}" if price > 0 else "at no price"
        yield f"To {option.name} costs least {up_to}; it is {said(option.price, currency)}."


def _why_not(name: str, stratum: dict[str, Any]) -> str:
    """Why an option can't be priced."""
    if stratum["failure"] is None:
        return "the price of a failure is unknown; set it"
    if not fitted_stratum(stratum):
        return f"{stratum['new_failures']:,} new parts have failed, too few to fit their life"
    if name != LEAVE and stratum[name] is None:
        return f"its price is unknown; set {name} in {FILE}, or give --{name}-price"
    if name == CLEAN or (name == LEAVE and stratum["cleaned_shape"] is None):
        return f"{stratum['cleaned_failures']:,} cleaned parts have failed, too few to fit their life"
    return "the age of the part is unknown"


def about_part(running: dict[str, Any], unknown_start: str) -> str:
    """The age of the part, and how well it is known."""
    times = running["cleanings"] or 0
    cleaned = f", cleaned {times} time{'' if times == 1 else 's'} since it was new" if times else ""
    if running["now_km"] is None:
        return f"The age of the part is unknown, as the vehicle has no usable odometer reading{cleaned}."
    age = running["now_km"] - running["start_km"]
    at = f"at {running['now_km']:,.0f} km on {running['record_to']:%Y-%m-%d}"
    if running["unknown_start"]:
        taken = "it is left out as asked" if unknown_start == "leave-out" else "it is taken for the original part"
        return f"The part's life began before the record ({at}): {taken}, {age:,.0f} km old{cleaned}."
    began = f" (job {running['began_job_id']})" if running["began_job_id"] is not None else ""
    return f"The part began as {running['began_as']}{began} and is {age:,.0f} km old {at}{cleaned}."


def about_practice(component: str, running: dict[str, Any]) -> Iterator[str]:
    """What the trade holds whatever the figures say. Common practice, no source."""
    if component.endswith("cooler"):
        yield (
            "A cooler that leaks is replaced and never cleaned back into service, whatever it costs: rule out 'clean'. "
            "Coolant in the intake can destroy the engine."
        )
    if (running["cleanings"] or 0) >= 1:
        yield "Where a part fails again after a cleaning, workshops lean to replacing it (common practice, no source)."


def about_warranty(
    terms: ComponentPrices, term_km: float | None, stratum: dict[str, Any], currency: str | None
) -> tuple[str, ...]:
    if terms.warranty_km is None and terms.warranty_months is None:
        return ()
    if term_km is None:
        return ("The part warranty isn't priced: how far the vehicle runs in its months is unknown.",)
    if stratum["part_cost"] is None:
        return ("The part warranty isn't priced: no job records what a new part costs.",)
    return (
        f"A new part that fails within {term_km:,.0f} km (its warranty on this vehicle) gives back its value of "
        f"{said(stratum['part_cost'], currency)}, labour not; later parts' warranties aren't priced.",
    )
