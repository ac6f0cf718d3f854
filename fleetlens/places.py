"""Where the files that travel with the package stand: inside an installed wheel, or beside it in a checkout."""

from functools import cache
from importlib.resources import files
from pathlib import Path


@cache
def folder(name: str) -> Path:
    """The folder `name` ("sql", "dashboards" or "sample_fleet") on disk.

    A wheel carries these folders inside the package; a checkout has them beside it.
    """
    package = Path(str(files("fleetlens")))
    for place in (package / name, package.parent / name):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"the folder {name!r} is missing from this installation of fleetlens")
