"""A workshop whose pages tell °F beside °C."""

import json
import re


def test_a_workshop_asks_for_it_in_its_scale_file(run, tmp_path, monkeypatch):
    assert run("begin", tmp_path / "shop").code == 0
    monkeypatch.chdir(tmp_path / "shop")
    scale = tmp_path / "shop/catalogues/workshops/demo/scale.toml"
    before = scale.read_text(encoding="utf-8")
    asked = ("batch", "scenarios/massage_bar.toml")
    plain = run(*asked).out
    scale.write_text(f"{before}\n[temperature]\nfahrenheit = true\n", encoding="utf-8")
    shown = run(*asked).out
    melt = re.search(r"water bath to (\d+) °C", plain)
    other = round(float(melt[1]) * 9 / 5 + 32)
    assert f"{melt[1]} °C ({other} °F)" in " ".join(shown.split())
    data = run(*asked, "--json").out
    assert "°F" not in data
    assert json.loads(data)["status"]
    for table in ("pour", "fats"):
        path = tmp_path / "shop" / "mine.csv"
        path.write_text("ingredient,percent\ncocoa butter,80\nbeeswax,20\n")
        assert "°F)" in run(table, path).out
    scale.write_text(f'{before}\n[temperature]\nfahrenheit = "yes"\n', encoding="utf-8")
    wrong = run(*asked)
    assert wrong.code == 1
    assert "temperature.fahrenheit: 'yes' is neither true nor false" in wrong.err
    scale.write_text(before, encoding="utf-8")
    assert "°F" not in run(*asked).out


def test_who_begins_for_the_us_is_told_how_pages_tell_fahrenheit(run, tmp_path):
    recipe = tmp_path / "mine.csv"
    recipe.write_text("ingredient,amount,unit\nshea butter,80,g\nbeeswax,20,g\n")
    told = {}
    for market in ("US", "EU"):
        asked = ("--from", recipe, "--product", "balm", "--market", market)
        done = run("begin", tmp_path / market, *asked)
        assert done.code == 0
        told[market] = " ".join((done.out + done.err).split())
    where = "fahrenheit = true into catalogues/workshops/demo/scale.toml"
    assert where in told["US"]
    assert where not in told["EU"]
