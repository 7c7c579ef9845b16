"""The published recipes, read once, and a way to survey recipes of a test's own."""

from pathlib import Path

import pytest

from optimiser.reading import read_catalogue
from optimiser.reading.recipes import (
    Matcher,
    read_answers,
    read_knowledge,
    read_recipe_table,
)
from optimiser.studies.survey import Asked, survey

CATALOGUES = Path(__file__).resolve().parents[2] / "catalogues"
PUBLISHED = Path(__file__).with_name("public_formulas.csv")
HEADER = "recipe,class,ingredient,amount,unit,note\n"


@pytest.fixture(scope="session")
def catalogue():
    return read_catalogue(CATALOGUES, "demo")


@pytest.fixture(scope="session")
def knowledge(catalogue):
    problems = []
    found = read_knowledge(CATALOGUES, "demo", catalogue, None, problems)
    assert problems == []
    return found


@pytest.fixture(scope="session")
def matcher(catalogue, knowledge):
    return Matcher(catalogue, knowledge.words)


@pytest.fixture(scope="session")
def written():
    problems = []
    found = read_recipe_table(PUBLISHED, problems)
    assert problems == []
    return found


@pytest.fixture(scope="session")
def published(written, catalogue, knowledge):
    """Every published recipe, read without answers, in a climate of 30 deg C."""
    return survey(written, catalogue, knowledge, {}, Asked(zone="IVA"))


@pytest.fixture(scope="session")
def recipes(published):
    return {each.name: each for each in published.recipes}


@pytest.fixture
def surveyed(tmp_path, catalogue, knowledge):
    """Return a function that surveys the lines of a table, with answers to it."""

    def call(lines, answers="", **asked):
        table, given = tmp_path / "recipes.csv", tmp_path / "answers.csv"
        table.write_text(HEADER + lines, encoding="utf-8")
        given.write_text("recipe,ingredient,answer\n" + answers, encoding="utf-8")
        problems = []
        found = read_recipe_table(table, problems)
        told = read_answers(given, catalogue, problems)
        assert problems == []
        return survey(found, catalogue, knowledge, told, Asked(**asked))

    return call


@pytest.fixture
def one(surveyed):
    """Return a function that reads the lines of one recipe."""

    def call(lines, answers=""):
        rows = "".join(f"A,balm,{line}\n" for line in lines)
        return surveyed(rows, answers).recipes[0]

    return call
