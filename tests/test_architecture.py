"""Imports run one way: each layer imports only those before it."""

import ast
import subprocess
from functools import cache
from pathlib import Path

import pytest

ORDER = [
    "errors",
    "units",
    "domain",
    "science",
    "reading",
    "rules",
    "solving",
    "explaining",
    "studies",
    "workshop",
    "presenting",
    "cli",
    "web",
]
ABOVE = {"__init__", "__main__"}  # the package's own doors, which may open any layer
PACKAGE = Path(__file__).resolve().parents[1] / "optimiser"
MODULES = sorted(path for path in PACKAGE.rglob("*.py") if "_data" not in path.parts)
KINDS = (ast.Import, ast.ImportFrom, ast.ClassDef)


@cache
def nodes_of(path):
    """What a module imports and the classes that it defines, wherever they stand."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [node for node in ast.walk(tree) if isinstance(node, KINDS)]


def layer_of(path):
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported_layers(path):
    for node in nodes_of(path):
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
            if node.module == "optimiser":
                names = [f"optimiser.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        for name in names:
            parts = name.split(".")
            if parts[0] == "optimiser" and len(parts) > 1:
                yield parts[1]


def test_the_order_names_every_layer_and_no_other():
    assert sorted(ORDER) == sorted({layer_of(path) for path in MODULES} - ABOVE)


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_each_layer_imports_only_layers_before_it(path):
    layer = layer_of(path)
    if layer in ABOVE:
        return
    allowed = ORDER[: ORDER.index(layer) + 1]
    used = set(imported_layers(path))
    assert used <= set(allowed), f"{layer} imports {sorted(used - set(allowed))}"


@pytest.mark.parametrize("library", ["pulp", "highspy"])
def test_only_the_solving_layer_imports_a_solver(library):
    importers = {
        layer_of(path)
        for path in MODULES
        for node in nodes_of(path)
        if (
            isinstance(node, ast.Import)
            and any(alias.name.split(".")[0] == library for alias in node.names)
        )
        or (
            isinstance(node, ast.ImportFrom)
            and (node.module or "").split(".")[0] == library
        )
    }
    assert importers <= {"solving"}


# One word for one thing.
def test_no_name_of_a_class_stands_in_two_modules():
    found = {}
    for path in MODULES:
        for node in nodes_of(path):
            if isinstance(node, ast.ClassDef):
                where = str(path.relative_to(PACKAGE))
                found.setdefault(node.name, set()).add(where)
    assert {name: places for name, places in found.items() if len(places) > 1} == {}


def test_nothing_else_lies_at_the_top():
    tracked = subprocess.run(
        ["git", "ls-files"],
        cwd=PACKAGE.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    if tracked.returncode:
        pytest.skip("no checkout of git")
    top = {name.split("/")[0] for name in tracked.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "optimiser", "catalogues",
        "scenarios", "tests",
    }  # fmt: skip
