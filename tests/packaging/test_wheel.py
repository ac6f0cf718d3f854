"""The wheel carries everything and works outside the checkout."""

import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    build = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        "--quiet",
        "--no-deps",
        "--no-build-isolation",
        "-w",
        str(folder),
        str(HOUSE),
    ]
    subprocess.run(build, check=True, capture_output=True)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel unpacked into a folder of its own."""
    folder = tmp_path_factory.mktemp("installed")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder


def test_it_puts_one_module_into_site_packages(installed: Path) -> None:
    tops = {path.name for path in installed.iterdir() if not path.name.endswith(".dist-info")}
    assert tops == {"fleetlens"}


@pytest.mark.parametrize("name", ["sql", "dashboards", "sample_fleet"])
def test_the_folders_travel_whole(name: str, installed: Path) -> None:
    def files(folder: Path) -> dict[str, bytes]:
        return {
            path.relative_to(folder).as_posix(): path.read_bytes()
            for path in folder.rglob("*")
            if path.is_file() and "__pycache__" not in path.parts
        }

    assert files(installed / "fleetlens" / name) == files(HOUSE / name)


def run(installed: Path, folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run the installed package, and not the checkout, with the libraries of this environment."""
    libraries = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    paths = os.pathsep.join([str(installed), *sorted(libraries)])
    code = "import fleetlens.cli, sys; print(fleetlens.__file__, file=sys.stderr); fleetlens.cli.main()"
    return subprocess.run(
        [sys.executable, "-S", "-c", code, *words],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": paths, "FLEETLENS_STORE": ""},
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_demo_runs_from_another_folder(installed: Path, tmp_path: Path) -> None:
    done = run(installed, tmp_path, "demo", "--no-dashboard")
    assert done.returncode == 0, done.stderr
    assert str(installed) in done.stderr
    assert "vehicles ran" in done.stdout
    assert (tmp_path / "fleet-demo" / "CURRENT").exists()


def test_a_sample_is_made_and_loaded_from_another_folder(installed: Path, tmp_path: Path) -> None:
    for words in (("sample", "made", "--vehicles", "3"), ("load", "made"), ("codes", "--json")):
        done = run(installed, tmp_path, *words)
        assert done.returncode == 0, done.stderr
