"""A name of which only the category was told is listed, to be put right."""

import pytest

from optimiser.cli import main

RECIPES = """\
recipe,class,ingredient,amount,unit
One,bar,beeswax,30,%
One,bar,stardust petal oil,70,%
Two,bar,beeswax,40,%
Two,bar,liquid oil,60,%
"""


def test_what_was_read_only_as_a_category_is_among_the_names_not_known(
    tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "r.csv").write_text(RECIPES, encoding="utf-8")
    with pytest.raises(SystemExit):
        main(["survey", "r.csv", "--class", "bar", "--to", "out"])
    told = " ".join(capsys.readouterr().out.split())
    assert "stardust petal oil (One): read only as liquid oil" in told
    assert "liquid oil (Two)" not in told
    assert "only say" not in told
