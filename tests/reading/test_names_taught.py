"""What a workshop teaches of names is known to every reader of formulas."""

import shutil
from pathlib import Path

import pytest

from optimiser.reading import read_catalogue
from optimiser.reading.formulas import read_formula
from optimiser.reading.trials import read_trials

SHIPPED = Path(__file__).resolve().parents[2] / "catalogues"


@pytest.fixture(scope="module")
def catalogues(tmp_path_factory):
    """Return a folder of catalogues whose workshop teaches a name of its own."""
    folder = tmp_path_factory.mktemp("names") / "catalogues"
    shutil.copytree(SHIPPED, folder, ignore=shutil.ignore_patterns("*.sqlite*"))
    own = folder / "workshops" / "demo"
    (own / "recipe_names.csv").write_text(
        "written,stands_for\nthe yellow jar,sunflower oil\nmarigold,sunflower oil\n"
    )
    (own / "ingredients.csv").write_text("key,name,category\nm,marigold,liquid oil\n")
    return folder


@pytest.fixture(scope="module")
def catalogue(catalogues):
    return read_catalogue(catalogues, "demo", shelf=[])


def test_a_trial_names_a_formula_file_that_uses_taught_names(
    catalogues, catalogue, tmp_path
):
    (tmp_path / "a.csv").write_text(
        "ingredient,percent\ncocoa butter,60\nthe yellow jar,40\n"
    )
    trials = tmp_path / "trials.csv"
    trials.write_text("trial,formula,room,verdict\na,a.csv,20 degC,right\n")
    (found,) = read_trials(trials, catalogue, catalogues, "demo")
    assert found.formula == {"cocoa_butter": 60.0, "sunflower_oil": 40.0}


def test_a_column_of_trials_may_have_a_taught_name(catalogues, catalogue, tmp_path):
    trials = tmp_path / "trials.csv"
    trials.write_text(
        "trial,room,verdict,cocoa butter,the yellow jar\na,20 degC,right,60,40\n"
    )
    (found,) = read_trials(trials, catalogue, catalogues, "demo")
    assert found.formula == {"cocoa_butter": 60.0, "sunflower_oil": 40.0}


def test_a_taught_name_comes_before_an_ingredient_of_that_name(
    catalogues, catalogue, tmp_path
):
    path = tmp_path / "a.csv"
    path.write_text("ingredient,percent\ncocoa butter,60\nmarigold,40\n")
    found = read_formula(path, catalogue, catalogues, "demo")
    assert found == {"cocoa_butter": 60.0, "sunflower_oil": 40.0}
