"""The documents can't go stale: their commands, options, imports and links are checked against the product."""

import ast
import re
import shlex
import tomllib
from pathlib import Path

import pytest
from typer.main import get_command

import fleetlens
from fleetlens.cli.entry import app

HOUSE = Path(__file__).parent.parent
README = (HOUSE / "README.md").read_text(encoding="utf-8")
GUIDE = (HOUSE / "DEVELOPERS.md").read_text(encoding="utf-8")
COMMANDS = get_command(app).commands  # type: ignore[attr-defined]


def blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", text, re.DOTALL)


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    title, first, second = README.split("\n\n")[:3]
    assert title == "# fleetlens"
    assert "engine light" in first
    assert second.startswith("## ")


@pytest.mark.parametrize("name", [name for name in fleetlens.__all__ if not name.startswith("_")])
def test_every_public_name_has_a_docstring(name: str) -> None:
    assert getattr(fleetlens, name).__doc__


def test_python_in_the_readme_uses_the_public_face_only() -> None:
    for block in blocks(README, "python"):
        for node in ast.walk(ast.parse(block)):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("fleetlens"):
                assert node.module == "fleetlens"
                assert {alias.name for alias in node.names} <= set(fleetlens.__all__)


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_a_command_is_documented_and_explains_itself(command: str) -> None:
    told = COMMANDS[command].help
    assert f"fleetlens {command}" in README or f"`{command}`" in README
    assert told
    assert "Example: fleetlens" in told


def test_every_command_line_in_the_documents_exists() -> None:
    lines = [line for block in blocks(README + GUIDE, "sh") for line in block.splitlines()]
    asked = [shlex.split(line[line.index("fleetlens ") :])[1:] for line in lines if re.search(r"(^|/)fleetlens ", line)]
    assert len(asked) > 6
    for command, *words in asked:
        known = {option for parameter in COMMANDS[command].params for option in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= known


def test_every_option_of_a_question_is_named_in_the_readme() -> None:
    for name in ("codes", "lives", "comebacks", "intervals"):
        for parameter in COMMANDS[name].params:
            plain = [option for option in parameter.opts if option in ("--store", "--json", "--out", "--rows")]
            assert all(f"`{option}" in README for option in plain)


def test_links_inside_the_house_lead_somewhere() -> None:
    for text in (README, GUIDE):
        for target in re.findall(r"\]\((?!http)([^)#]+)", text):
            assert (HOUSE / target).exists(), target


def test_every_dependency_is_named_with_its_reason() -> None:
    project = tomllib.loads((HOUSE / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for line in (*project["dependencies"], *project["optional-dependencies"]["test"]):
        name = re.split(r"[<>=\[ ]", line)[0]
        assert re.search(rf"^\|.*\b{name}\b", GUIDE, re.MULTILINE), name


def test_ci_runs_the_readmes_own_command() -> None:
    script = (HOUSE / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in script
    assert "pytest" in next(
        line for line in README.splitlines() if line.startswith("python3 -m venv") and "test" in line
    )
