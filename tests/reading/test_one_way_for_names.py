"""Prices, stock, scenarios and formulas read names as recipes write them."""

import subprocess
import sys
from pathlib import Path

import pytest

from optimiser.reading import read_catalogue, shipped_folder

ROOT = Path(__file__).resolve().parents[2]
PRICES = "ingredient,pack,unit,price,currency\n"
STOCK = "ingredient,lot,amount,unit\n"


@pytest.fixture
def shop(tmp_path):
    """Return a function that reads a workshop with a price list beside the rest."""
    for name in ("materials", "markets"):
        (tmp_path / name).symlink_to(shipped_folder("catalogues") / name)

    def read(prices, stock=""):
        folder = tmp_path / "workshops" / "mine"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "prices.csv").write_text(PRICES + prices, encoding="utf-8")
        if stock:
            (folder / "stock.csv").write_text(STOCK + stock, encoding="utf-8")
        return read_catalogue(tmp_path, "mine")

    return read


@pytest.mark.parametrize(
    ("written", "key"),
    [
        ("Beeswax pastilles", "beeswax"),
        ("Cocoa butter wafers (deodorised)", "cocoa_butter"),
        ("Organic shea butter; unrefined", "shea_butter_unrefined"),
        ("EVOO", "olive_oil"),
        ("Cetearyl Olivate & Sorbitan Olivate", "cetearyl_olivate_sorbitan_olivate"),
    ],
)
def test_a_price_list_may_say_it_as_the_shop_does(shop, written, key):
    assert shop(f'"{written}",1,kg,20,EUR\n').price_per_kg(key) == 20


def test_a_stock_list_may_too(shop):
    (lot,) = shop("kaolin,1,kg,5,EUR\n", '"Beeswax, yellow pellets",A1,2,kg\n').stock
    assert lot.ingredient == "beeswax"


@pytest.mark.parametrize(
    ("written", "wrong", "fix"),
    [
        ("sea salt", "may be fine sea salt or coarse sea salt", "correct the name"),
        ("beeswx", "the nearest known name is beeswax", "correct the name"),
        ("moon dust", "no known name is near it", "correct the name"),
    ],
)
def test_what_is_not_certain_is_refused_with_what_it_may_be(shop, written, wrong, fix):
    with pytest.raises(Exception, match=wrong) as told:
        shop(f"{written},1,kg,20,EUR\n")
    assert fix in str(told.value)
    assert "prices.csv, row 2" in str(told.value)


def test_a_name_that_the_workshop_taught_counts_in_its_prices(shop, tmp_path):
    folder = tmp_path / "workshops" / "mine"
    folder.mkdir(parents=True)
    table = "written,stands_for\nmoon dust,kaolin\n"
    (folder / "recipe_names.csv").write_text(table, encoding="utf-8")
    assert shop("moon dust,1,kg,5,EUR\n").price_per_kg("kaolin") == 5


def test_a_scenario_reads_names_as_recipes_do(desk):
    found = desk.scenario(
        'title = "Bar"\nworkshop = "demo"\nuse = "leave-on"\nmarket = ["EU"]\n'
        '[limits]\n"organic cocoa butter wafers" = { max = 47 }\n'
    )
    assert [bound.what for bound in found.limits] == ["cocoa_butter"]


def test_a_scenario_is_asked_which_grade_it_means(tmp_path):
    path = tmp_path / "bar.toml"
    path.write_text(
        'workshop = "demo"\n[base]\n"sea salt" = 50\n"olive oil" = 50\n', "utf-8"
    )
    done = subprocess.run(
        [sys.executable, "-m", "optimiser", "formulate", str(path)],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 1
    told = " ".join(done.stderr.split())
    assert "'sea salt' may be fine sea salt or coarse sea salt" in told
    assert "name the one ingredient that it is" in told


def test_a_formula_by_plain_names_loads_no_library_for_likeness():
    code = (
        "import sys\n"
        "from optimiser.cli import main\n"
        "try:\n    main(['formulate', 'scenarios/massage_bar.toml', '--json'])\n"
        "except SystemExit:\n    pass\n"
        "names = ('rapidfuzz', 'optimiser.reading.recipes.names')\n"
        "print([name for name in names if name in sys.modules], file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    assert done.stderr.splitlines()[-1] == "[]"
