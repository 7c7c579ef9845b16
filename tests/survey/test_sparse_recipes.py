"""Recipes that hold nothing of what the others hold, or nothing that is named."""

import json

import pytest

from tests.cli.conftest import run, workspace  # noqa: F401 - fixtures

pytestmark = pytest.mark.usefixtures("workspace")

HEAD = "recipe,class,ingredient,amount,unit,note\n"


@pytest.mark.parametrize(
    "rows",
    [
        "A,lip balm,shea butter,100,%,\nB,lip balm,shea butter,100,%,\n"
        "C,lip balm,honey,100,%,\n",
        "A,lip balm,beeswax,30,g,\nA,lip balm,olive oil,70,g,\n"
        "B,lip balm,butter of your choice,100,g,\nB,lip balm,lavender oil,0,g,\n",
    ],
)
def test_a_survey_of_sparse_recipes_is_told_without_a_crash(run, tmp_path, rows):  # noqa: F811
    (tmp_path / "sparse.csv").write_text(HEAD + rows, encoding="utf-8")
    asked = ("--class", "lip balm", "--to", tmp_path / "out", "--json")
    done = run("survey", tmp_path / "sparse.csv", *asked)
    assert done.code == 0
    assert "inside the program" not in done.err + done.out
    assert json.loads(done.out)
