"""The commands that look after a store: its loads, its rules, its settings, and going back."""

from typing import Annotated

import typer
from rich.console import Console

from fleetlens.advice.settings import settings as workshop_settings
from fleetlens.cli.answers import Asked, give, question
from fleetlens.cli.options import STORE, AsJson, Out, Store
from fleetlens.errors import FleetlensError
from fleetlens.findings import fleet
from fleetlens.findings.finding import Finding
from fleetlens.intake.switches import SWITCHES, Switch, set_switch, switched
from fleetlens.intake.switches import rebuild as build_anew
from fleetlens.output.files import check_target
from fleetlens.output.records import as_text
from fleetlens.output.terminal import lines
from fleetlens.store import history, preferences
from fleetlens.store.reader import open_store


@question(filtered=False, opens=False)
def loads(asked: Asked) -> Finding:
    """Every file that was loaded, newest first, with its rows accepted, repeated and refused.

    \b
    Example: fleetlens loads
    """
    return fleet.loads(asked.snapshot)


def undo(*, store: Store = STORE, as_json: AsJson = False) -> None:
    """Take back the last load: the store shows what it showed before.

    \b
    Example: fleetlens undo
    """
    taken, shown = history.undo(store)
    if as_json:
        typer.echo(as_text({"taken_back": taken, "snapshot": shown}))
    else:
        typer.echo(f"{taken} is taken back. The store shows {shown} from now on.")


def rebuild(*, store: Store = STORE) -> None:
    """Build the figures of a store anew, as after an update of fleetlens. What was loaded stays as it is.

    \b
    Example: fleetlens rebuild
    """
    typer.echo(f"The figures are built anew. The store shows {build_anew(store)} from now on.")


def rules(
    *,
    change: Annotated[
        list[str] | None, typer.Option("--set", metavar="RULE=VALUE", help="Set a rule (again for more).")
    ] = None,
    store: Store = STORE,
    as_json: AsJson = False,
) -> None:
    """The rules of this store that can be switched, and how they are set.

    \b
    Example: fleetlens rules --set supplements=count
    """
    for wanted in change or ():
        name, mark, value = wanted.partition("=")
        if not mark:
            raise FleetlensError(f"{wanted!r} sets nothing", do="name a rule and its value, such as supplements=count")
        set_switch(store, name.strip(), value.strip())
    values = switched(store)
    if as_json:
        told = [
            {"rule": one.name, "value": values[one.name], "values": one.values, "meaning": one.meaning}
            for one in SWITCHES
        ]
        typer.echo(as_text({"rows": told}))
        return
    Console().print(lines((f"{one.name}={values[one.name]}", _meaning(one, values[one.name])) for one in SWITCHES))


def _meaning(switch: Switch, value: str) -> str:
    others = " or ".join(f"{switch.name}={other}" for other in switch.values if other != value)
    return f"{switch.meaning} Otherwise: {others}."


def settings(
    *,
    write: Annotated[
        bool, typer.Option("--write", help="Write fleetlens.toml with every key into the store, to be filled in.")
    ] = False,
    store: Store = STORE,
    as_json: AsJson = False,
    out: Out = None,
) -> None:
    """What is set in fleetlens.toml, what was learned from the jobs instead, and what holds by default.

    \b
    Example: fleetlens settings
    """
    if write:
        typer.echo(f"Written to {preferences.write_template(store)}. Take the # away in front of what you set.")
        return
    if out is not None:
        check_target(out)
    with open_store(store) as snapshot:
        finding = workshop_settings(snapshot)
    give(finding, as_json=as_json, out=out)
