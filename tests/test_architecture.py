"""Imports run one way: each layer imports only those before it."""

import ast
import re
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


# Figures go to presenting as figures, which rounds them: in prose made before it they
# would be rounded unseen, and stand in no JSON. A message on what somebody wrote (a
# Problem, or another error) shows his own number back, and the words of a label are
# what the law says is printed.
BEFORE = ("studies", "explaining", "workshop", "science", "solving")
MESSAGES = {"wrong", "fix", "found", "shown"}
TOLD = {"Problem", "say", "Decimal"}
PRINTED = {"workshop/label.py": {"net_words"}}
PRINTED |= {"workshop/pricing.py": {"_plain"}}  # a decimal number, to its last digit


def rounds(node):
    """Whether an expression makes text of a number with fewer digits than it has."""
    if isinstance(node, ast.FormattedValue):
        spec = "" if node.format_spec is None else ast.unparse(node.format_spec)
        inside = [x.func for x in ast.walk(node.value) if isinstance(x, ast.Call)]
        names = {x.id for x in inside if isinstance(x, ast.Name)}
        return bool(re.search(r"[0-9.][fge%]|[fge%]['\"]$", spec)) or "round" in names
    return isinstance(node, ast.Call) and (
        (isinstance(node.func, ast.Attribute) and node.func.attr == "format")
        or (isinstance(node.func, ast.Name) and node.func.id == "format")
    )


def is_message(node):
    """Whether a node holds a message about what somebody wrote, or an error's text."""
    if isinstance(node, ast.Call):
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        return name in TOLD or name.endswith("Error")
    if isinstance(node, ast.Assign | ast.AugAssign):
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        return {getattr(each, "id", "") for each in targets} <= MESSAGES
    return False


def prose_of(node, printed=frozenset()):
    """Yield what rounds in the prose below a node."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef) and child.name in printed:
            continue
        if is_message(child):
            continue
        if rounds(child):
            yield ast.unparse(child)
        yield from prose_of(child, printed)


def test_no_prose_before_presenting_holds_a_rounded_number():
    found = {}
    for path in MODULES:
        if layer_of(path) in BEFORE:
            name = str(path.relative_to(PACKAGE))
            tree = ast.parse(path.read_text(encoding="utf-8"))
            told = list(prose_of(tree, PRINTED.get(name, frozenset())))
            if told:
                found[name] = told
    assert found == {}


@pytest.mark.parametrize(
    ("line", "seen"),
    [
        ('said.append(f"{share:.1f} % in the base")', True),
        ('why = f"only {near:g} points"', True),
        ('told = f"{round(value, 2)} %"', True),
        ('told = "{:.2f} %".format(value)', True),
        ('found = f"{unit_kg:g} kg"', False),
        ('raise ProofError(f"gap {gap:g}")', False),
        ('Problem(f"is less than {least:g}")', False),
        ('exactly = Decimal(f"{number:.10g}")', False),
        ('told = f"c{number:07d}"', False),
        ('told = f"{name:>8} of {count}"', False),
    ],
)
def test_a_rounded_number_in_prose_would_be_noticed(line, seen):
    assert bool(list(prose_of(ast.parse(line)))) is seen


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
