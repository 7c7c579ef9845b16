"""What a problem says of options is kept as values: a page names the fields instead."""

import ast
import re
from pathlib import Path

import pytest

import optimiser
from optimiser.errors import InputError, Option, Problem, phrase
from optimiser.presenting.data import problems_data
from optimiser.web.told import plainly
from optimiser.workshop.sizes import SizeAsked, size_of

PACKAGE = Path(optimiser.__file__).parent
AN_OPTION = re.compile(r"(?<![\w-])--[a-z]")
# What only a terminal shows: what is told beside a command, and how it is used.
IN_A_TERMINAL = {"tell", "typer.Option", "typer.Argument", "typer.BadParameter"}


def test_an_option_that_a_problem_names_is_a_field_on_a_page():
    with pytest.raises(InputError) as caught:
        size_of(SizeAsked(units=24), None, None, 1.0)
    (problem,) = caught.value.problems
    assert str(problem) == (
        "option --units: '24' says nothing of what a unit weighs.\n"
        '  To fix: add --net "60 g", or --mould with a name of scale.toml.'
    )
    assert plainly(problem) == (
        "units: '24' says nothing of what a unit weighs. To fix: add net \"60 g\", or"
        " mould with a name of scale.toml."
    )


def test_a_whole_command_is_told_as_it_is_typed_and_so_is_what_a_maker_wrote():
    fix = phrase("see: optimiser record show B1 --full, or ", Option("to"))
    problem = Problem("is wrong", "my --bar.csv", 3, "note", "--x", fix)
    assert plainly(problem) == (
        "my --bar.csv, row 3, column note: '--x' is wrong. To fix: see: optimiser"
        " record show B1 --full, or to."
    )


def test_words_with_options_are_text_in_json():
    problem = Problem("is wrong", fix=phrase("leave ", Option("made"), " out"))
    assert problems_data([problem])["problems"][0]["fix"] == "leave --made out"


def on_a_page():
    """Return the modules that the workbench imports, whenever it does."""
    found, left = set(), [*(PACKAGE / "web").glob("*.py")]
    while left:
        path = left.pop()
        if path in found:
            continue
        found.add(path)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module is not None:
                place = PACKAGE.parent.joinpath(*node.module.split("."))
                near = [place / each.name for each in node.names]
                near = [each.with_suffix(".py") for each in (place, *near)]
                left += [x for x in (*near, place / "__init__.py") if x.is_file()]
    return found


def texts(node):
    """Yield each text below a node, joined where it has values in it."""
    if isinstance(node, ast.Call):
        called = ast.unparse(node.func)
        if called in IN_A_TERMINAL:
            return
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return  # a docstring
    if isinstance(node, ast.JoinedStr):
        parts = [x.value if isinstance(x, ast.Constant) else "" for x in node.values]
        yield node.lineno, "".join(parts)
        return
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.lineno, node.value
    for child in ast.iter_child_nodes(node):
        yield from texts(child)


def test_no_text_that_a_page_may_show_holds_an_option_as_it_is_typed():
    modules, found = on_a_page(), []
    assert len(modules) > 100
    # What is typed is kept apart in a page's blocks, and left out by the workbench.
    shown = {path for path in modules if "presenting" in path.parts}
    for path in (modules - shown) | {PACKAGE / "presenting" / "scenario_text.py"}:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        found += [
            f"{path.relative_to(PACKAGE)}:{line}: {text}"
            for line, text in texts(tree)
            if AN_OPTION.search(text) and " " in text and "optimiser " not in text
        ]
    assert found == []
