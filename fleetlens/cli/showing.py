"""The commands that open the dashboard: on a store, or on the invented fleet that travels with the package."""

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.headlines import headlines
from fleetlens.cli.options import STORE, Port, Store
from fleetlens.cli.progress import told
from fleetlens.errors import FleetlensError
from fleetlens.intake.load import load
from fleetlens.output.loads import show_load
from fleetlens.output.terminal import lines
from fleetlens.places import folder
from fleetlens.store.reader import open_store
from fleetlens.vocabulary.tables import tables

HOST = "127.0.0.1"  # loopback only: a job history holds people's work and complaints
PORT = 8501
DEMO_STORE = Path("fleet-demo")
PATIENCE_S = 10.0


def demo(
    *,
    no_dashboard: Annotated[bool, typer.Option("--no-dashboard", help="Load and print only.")] = False,
    store: Annotated[Path, typer.Option("--store", help="Folder of the demo's store.")] = DEMO_STORE,
    port: Port = PORT,
) -> None:
    """Load the invented sample fleet, print its headlines and open the dashboard.

    \b
    Example: fleetlens demo --no-dashboard
    """
    if not no_dashboard:
        _check_port(port)
    console = Console()
    with told() as progress:
        report = load([folder("sample_fleet") / f"{name}.csv" for name in tables()], store, progress=progress)
    show_load(report, console)
    with open_store(store) as snapshot:
        said = headlines(snapshot)
    console.print(Text("\nHeadlines of an invented fleet", style="bold"))
    console.print(lines(("•", line) for line in said))
    console.print(Text("\nBefore anyone starts work", style="bold"))
    console.print(lines(("•", line) for line in CAUTIONS))
    if no_dashboard:
        console.print(Text(f"\nOpen the dashboard with: fleetlens dashboard --store {store}"))
    else:
        _serve(store, port)


def dashboard(*, store: Store = STORE, port: Port = PORT) -> None:
    """Open the dashboard on a store, on this machine only. Ctrl+C stops it.

    \b
    Example: fleetlens dashboard --store fleet-store --port 8600
    """
    open_store(store).close()  # a clear word before anything starts
    _check_port(port)
    _serve(store, port)


def _serve(store: Path, port: int) -> None:
    """Run the dashboard until it is stopped; a failure of it is an error here."""
    options = {
        "server.address": HOST,
        "server.port": str(port),
        "server.headless": "false" if _has_display() else "true",
        "server.fileWatcherType": "none",
        "server.showEmailPrompt": "false",
        "browser.gatherUsageStats": "false",
        "client.showErrorDetails": "none",
        "global.developmentMode": "false",
    }
    flags = [part for name, value in options.items() for part in (f"--{name}", value)]
    command = [sys.executable, "-m", "streamlit", "run", str(folder("dashboards") / "app.py"), *flags]
    typer.echo(f"\nThe dashboard opens at http://{HOST}:{port} (Ctrl+C stops it).", err=True)
    environment = os.environ | {"FLEETLENS_STORE": str(store.resolve())}
    with _ended_with_us(subprocess.Popen(command, env=environment)) as running:
        status = running.wait()
    if status:
        raise FleetlensError(f"the dashboard stopped with status {status}", do="read what it printed above")


@contextmanager
def _ended_with_us(running: subprocess.Popen[bytes]) -> Iterator[subprocess.Popen[bytes]]:
    """The child never outlives us, also when we are told to end."""
    before = signal.signal(signal.SIGTERM, lambda number, _: sys.exit(128 + number))
    try:
        yield running
    finally:
        running.terminate()
        try:
            running.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            running.kill()
        signal.signal(signal.SIGTERM, before)


def _has_display() -> bool:
    return not sys.platform.startswith("linux") or any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))


def _check_port(port: int) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        if os.name == "posix":  # a port just left counts as free, as it does for the server
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError as error:
            raise FleetlensError(
                f"port {port} can't be used: {error.strerror}", do=f"another one: --port {port % 65535 + 1}"
            ) from error
