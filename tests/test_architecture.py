"""The folders are the architecture: nothing imports upward, strangers stay strangers, and the public face is short."""

import ast
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent / "fleetlens"
FLOORS = ["errors", "places", "vocabulary", "reliability", "store", "intake", "findings", "advice", "output", "cli"]
STRANGERS = {
    ("reliability", "vocabulary"),
    ("reliability", "places"),
    ("store", "reliability"),
    ("store", "vocabulary"),
    ("intake", "reliability"),
    ("findings", "intake"),
    ("sample", "store"),
    ("sample", "intake"),
    ("sample", "findings"),
    ("sample", "advice"),
    ("sample", "output"),
    ("sample", "cli"),
    ("sample", "reliability"),
}
MODULES = sorted(path for path in HOUSE.rglob("*.py") if not {"sql", "dashboards", "sample_fleet"} & set(path.parts))


def imported(path: Path) -> set[str]:
    """The floors of our own house that a module imports."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: write the whole name, not a relative import"
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return {name.split(".")[1] for name in found if name.startswith("fleetlens.")}


def floor(path: Path) -> str:
    return path.relative_to(HOUSE).parts[0].removesuffix(".py")


def test_nothing_imports_upward() -> None:
    upward = [
        f"{path.relative_to(HOUSE)} -> {there}"
        for path in MODULES
        if (here := floor(path)) in FLOORS
        for there in imported(path) & set(FLOORS)
        if FLOORS.index(there) > FLOORS.index(here)
    ]
    assert upward == []


def test_strangers_stay_strangers() -> None:
    met = [
        f"{path.relative_to(HOUSE)} -> {there}"
        for path in MODULES
        for there in imported(path)
        if (floor(path), there) in STRANGERS
    ]
    assert met == []


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(HOUSE)))
def test_a_module_says_what_it_does(path: Path) -> None:
    told = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert told
    assert told.splitlines()[0].endswith((".", ":"))


def test_only_tools_of_the_command_line_print() -> None:
    allowed = {"cli", "output"}
    printing = [
        str(path.relative_to(HOUSE))
        for path in MODULES
        if floor(path) not in allowed
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    ]
    assert printing == []
