"""dashboard and demo: loopback only, no usage statistics, a clear word first, no process left behind."""

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fleetlens.cli import showing
from fleetlens.cli.showing import HOST
from fleetlens.store.reader import current


@pytest.fixture
def port():
    """A port that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return probe.getsockname()[1]


@pytest.fixture
def started(monkeypatch, tmp_path):
    """What would have been started; a process that ends at once stands in for the dashboard."""
    seen = []
    real = subprocess.Popen

    def popen(command, env):
        seen.append((command, env))
        return real(
            [sys.executable, "-c", "raise SystemExit(int('--server.port' not in __import__('sys').argv))", *command]
        )

    monkeypatch.setattr(showing.subprocess, "Popen", popen)
    monkeypatch.setattr(showing, "folder", lambda name: tmp_path / name)
    return seen


def test_the_dashboard_listens_on_this_machine_only_and_tells_nobody(run, store, port, started, monkeypatch):
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    told = run("dashboard", "--store", store, "--port", port)
    assert told.code == 0
    assert f"http://127.0.0.1:{port}" in told.err
    [(command, environment)] = started
    assert command[:5] == [sys.executable, "-m", "streamlit", "run", str(Path("dashboards", "app.py").resolve())]
    flags = dict(zip(command[5::2], command[6::2], strict=True))
    assert flags == {
        "--server.address": "127.0.0.1",
        "--server.port": str(port),
        "--server.headless": "true",
        "--server.fileWatcherType": "none",
        "--server.showEmailPrompt": "false",
        "--browser.gatherUsageStats": "false",
        "--client.showErrorDetails": "none",
        "--global.developmentMode": "false",
    }
    assert environment["FLEETLENS_STORE"] == str(store.resolve())


def test_a_display_opens_the_browser(run, store, port, started, monkeypatch):
    monkeypatch.setenv("DISPLAY", ":0")
    run("dashboard", "--store", store, "--port", port)
    command = started[0][0]
    assert command[command.index("--server.headless") + 1] == "false"


def test_a_taken_port_is_said_before_anything_starts(run, store, started):
    with socket.socket() as holder:
        holder.bind((HOST, 0))
        holder.listen()
        port = holder.getsockname()[1]
        told = run("dashboard", "--store", store, "--port", port)
    assert (told.code, started) == (2, [])
    assert f"port {port} can't be used" in told.err
    assert f"--port {port + 1}" in told.err or port == 65535


def test_a_dashboard_that_fails_is_an_error(run, store, port, monkeypatch):
    real = subprocess.Popen
    monkeypatch.setattr(
        showing.subprocess, "Popen", lambda *_, **__: real([sys.executable, "-c", "raise SystemExit(3)"])
    )
    monkeypatch.setattr(showing, "folder", lambda _: store)
    told = run("dashboard", "--store", store, "--port", port)
    assert told.code == 2
    assert "the dashboard stopped with status 3" in told.err


def test_the_demo_loads_the_sample_and_says_what_it_shows(run, fleet, tmp_path, monkeypatch):
    monkeypatch.setattr(showing, "folder", lambda _: fleet)
    told = run("demo", "--no-dashboard")
    assert told.code == 0, told.err
    assert current(tmp_path / "fleet-demo") == "fleet-000001"
    assert "60 vehicles ran" in told.out
    assert "Follow the vehicle maker's instructions" in told.out
    assert "fleetlens dashboard --store fleet-demo" in told.out
    assert run("demo", "--no-dashboard").code == 0  # again, on the same store


def test_the_demo_opens_the_dashboard(run, fleet, monkeypatch, started, port):
    monkeypatch.setattr(showing, "folder", lambda _: fleet)
    assert run("demo", "--port", port).code == 0
    assert started[0][1]["FLEETLENS_STORE"] == str(Path("fleet-demo").resolve())


PARENT = """
import subprocess, sys
from fleetlens.cli.showing import _ended_with_us
child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
with _ended_with_us(child) as running:
    print(child.pid, flush=True)
    running.wait()
"""


@pytest.mark.skipif(os.name != "posix", reason="signals are told differently elsewhere")
def test_nothing_is_left_running_when_we_are_told_to_end():
    with subprocess.Popen([sys.executable, "-c", PARENT], stdout=subprocess.PIPE, text=True) as parent:
        child = int(parent.stdout.readline())
        parent.send_signal(signal.SIGTERM)
        assert parent.wait(20) == 128 + signal.SIGTERM
    for _ in range(100):
        try:
            os.kill(child, 0)
        except ProcessLookupError:
            return
        time.sleep(0.05)
    os.kill(child, signal.SIGKILL)
    pytest.fail("the child outlived its parent")
