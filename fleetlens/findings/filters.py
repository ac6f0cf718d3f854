"""Which vehicles and components a question is about."""

from collections.abc import Mapping
from dataclasses import dataclass

from fleetlens.errors import FleetlensError
from fleetlens.store.reader import Snapshot


@dataclass(frozen=True, slots=True)
class Filters:
    """Keep the vehicles whose model, duty and depot are among those named, and the components named.

    An empty tuple keeps everything. Values are those of the store, to the letter.
    """

    model: tuple[str, ...] = ()
    duty: tuple[str, ...] = ()
    depot: tuple[str, ...] = ()
    component: tuple[str, ...] = ()

    def bound(self) -> dict[str, list[str] | None]:
        """The values that bind the vehicle filters of a query; null keeps all."""
        return {
            "models": list(self.model) or None,
            "duties": list(self.duty) or None,
            "depots": list(self.depot) or None,
        }

    def named(self) -> Mapping[str, tuple[str, ...]]:
        """The filters that are set, by name."""
        chosen = {"model": self.model, "duty": self.duty, "depot": self.depot, "component": self.component}
        return {name: values for name, values in chosen.items() if values}


def choices(snapshot: Snapshot) -> dict[str, list[str]]:
    """The values that the store knows for each filter, sorted."""
    known = snapshot.frame("findings/filter_choices")
    return {
        name: known.filter(known["filter"] == name)["value"].to_list()
        for name in ("model", "duty", "depot", "component")
    }


def check(snapshot: Snapshot, filters: Filters) -> None:
    """Raise FleetlensError for a value that the store doesn't know, with those it does."""
    known = choices(snapshot)
    for name, values in filters.named().items():
        for value in values:
            if value not in known[name]:
                raise FleetlensError(
                    f"no {name} is called {value!r} in this store",
                    do=f"one of: {', '.join(known[name][:20]) or 'none is recorded'}",
                )
