"""Stops of a maker's first week, each as it was met, and what is said there now."""

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

PRICES = Path("catalogues/workshops/demo/prices.csv")
# Amounts that are whole steps of a percent, so that nothing has to be searched for.
RECIPE = """\
ingredient,amount,unit
shea butter,400,g
coconut oil,290,g
beeswax pastilles,150,g
sweet almond oil,150,g
vitamin e,5,g
lavender oil,5,g
"""


@pytest.fixture
def kitchen(run, prepared, workspace):
    Path("mine.csv").write_text(RECIPE, encoding="utf-8")
    asked = ("begin", ".", "--from", "mine.csv", "--product", "lip balm")
    done = prepared(workspace, asked, lambda: run(*asked))
    assert done.code == 0
    return workspace


def priced(row):
    with PRICES.open("a", encoding="utf-8") as file:
        file.write(f"{row}\n")


@pytest.mark.usefixtures("kitchen")
@pytest.mark.parametrize(
    "arguments",
    [
        ("pour", "mine.csv"),
        ("fats", "mine.csv"),
        ("pour", "scenarios/mine.toml"),
        ("begin", ".", "--from", "mine.csv", "--replace"),
    ],
)
def test_a_bad_price_stops_nothing_that_needs_no_price(run, arguments):
    priced("cocoa_butter,one,kg,3,,EUR,,")
    done = run(*arguments)
    assert done.code == 0
    assert "prices.csv: a row cannot be read, which nothing here needs" in done.err
    assert run("formulate", "scenarios/mine.toml").code == 1


@pytest.mark.usefixtures("kitchen")
def test_a_price_is_found_by_the_name_a_shop_gives():
    from optimiser.reading import read_catalogue  # noqa: PLC0415

    priced("Beeswax pastilles,500,g,9,,EUR,,")
    (pack,) = read_catalogue(Path("catalogues"), "demo").prices["beeswax"]
    assert (pack.price, pack.invented) == (9.0, False)  # the demo's give way to it


@pytest.mark.usefixtures("kitchen")
def test_one_price_in_another_currency_is_enough_and_nothing_goes_in_a_circle(run):
    priced("Beeswax pastilles,1,lb,9,,USD,,")
    scale = Path("catalogues/workshops/demo/scale.toml")
    for code in ("EUR", "USD"):
        scale.write_text(
            re.sub(r'code = "\w+"', f'code = "{code}"', scale.read_text("utf-8")),
            encoding="utf-8",
        )
        done = run("formulate", "scenarios/mine.toml")
        if code == "EUR":  # the scenario asks for what is cheap: all else has no price
            assert done.code == 1
            assert "(invented ones in EUR do not count beside USD)" in done.err
            assert "beeswax" not in done.err
            assert "currency" not in done.err.replace("freight,currency", "")
            order = re.search(r"let order of \[aim\] be (\[.*\])", done.err)
            mine = Path("scenarios/mine.toml")
            text = mine.read_text(encoding="utf-8")
            text = re.sub(r"(?m)^order = .*$", f"order = {order[1]}", text)
            mine.write_text(text, encoding="utf-8")
            done = run("formulate", "scenarios/mine.toml")
        said = " ".join(done.out.split())
        assert (done.code, done.err) == (0, "")
        assert "invented prices, in another currency, do not count" in said
        assert "What the materials cost is not known: no price for" in said
        assert "beeswax" not in said.partition("no price for")[2].partition(".")[0]
        told = " ".join(run("cost", "scenarios/mine.toml", "--net", "20 g").out.split())
        assert "invented money in another currency not counted" in told
        assert "demo/costs.toml, in EUR" in told
        assert "demo/scale.toml, labour.rate 18 EUR/h" in told


def test_a_corrected_recipe_is_begun_again_and_the_scenario_before_it_is_kept(
    run, kitchen
):
    path = kitchen / "scenarios" / "mine.toml"
    path.write_text(f"{path.read_text(encoding='utf-8')}# mine\n", encoding="utf-8")
    refused = run("begin", ".", "--from", "mine.csv")
    assert refused.code == 1
    assert "begin again with --replace" in refused.err
    Path("mine.csv").write_text(RECIPE.replace("400", "1400"), encoding="utf-8")
    done = run("begin", ".", "--from", "mine.csv", "--replace")
    assert done.code == 0
    assert 'size = "2 kg"' in path.read_text(encoding="utf-8")
    old = path.with_name("mine.toml.old").read_text(encoding="utf-8")
    assert old.endswith("# mine\n")
    assert 'size = "1 kg"' in old


@pytest.mark.usefixtures("kitchen")
def test_a_scenario_that_was_not_begun_from_a_recipe_is_never_replaced(run):
    bar = Path("scenarios/bar.toml")
    before = bar.read_bytes()
    Path("bar.csv").write_text(RECIPE, encoding="utf-8")
    done = run("begin", ".", "--from", "bar.csv", "--replace")
    assert done.code == 1
    assert "was not written from a recipe" in done.err
    assert bar.read_bytes() == before


@pytest.mark.usefixtures("kitchen")
def test_a_recipe_that_keeps_every_rule_is_told_so(run):
    told = run("begin", ".", "--from", "mine.csv", "--replace").out
    assert "Your recipe as it stands keeps every rule around it." in told
    shown = " ".join(run("formulate", "scenarios/mine.toml").out.split())
    assert "Your base keeps every rule." in shown
    tight = "[limits]\nbeeswax = { max = 14 }\n"
    path = Path("scenarios/tight.toml")
    path.write_text(f'extends = "mine.toml"\n{tight}', encoding="utf-8")
    shown = " ".join(run("formulate", path).out.split())
    assert "keeps every rule" not in shown


@pytest.mark.usefixtures("kitchen")
def test_invented_prices_are_told_where_a_cost_is(run):
    for command in ("formulate", "stock", "tradeoff", "why", "sweep"):
        shown = " ".join(run(command, "scenarios/mine.toml").out.split())
        assert "prices invented" in shown
    table = "recipe,class,ingredient,amount,unit\nA,balm,beeswax,20,g\nA,,shea,80,g\n"
    Path("theirs.csv").write_text(table, encoding="utf-8")
    assert "prices invented" in run("survey", "theirs.csv").out
    mine = PRICES.read_text(encoding="utf-8").replace(",invented", ",")
    PRICES.write_text(mine, encoding="utf-8")
    assert "invented" not in run("formulate", "scenarios/mine.toml").out


@pytest.mark.usefixtures("kitchen")
def test_why_tells_how_to_see_rules_in_money_where_another_aim_comes_first(run):
    said = "`optimiser why scenarios/mine.toml --by cost` tells what each rule costs"
    shown = " ".join(run("why", "scenarios/mine.toml").out.split())
    assert "Told in change from the base, which is the first aim here" in shown
    assert said in shown
    by_cost = " ".join(run("why", "scenarios/mine.toml", "--by", "cost").out.split())
    assert "Told of the cheapest formula that keeps every rule" in by_cost
    assert "EUR/kg (+" in by_cost
    pasted = shlex.split(re.search(r"Next: `optimiser (.*?)`", by_cost)[1])
    assert pasted[:4] == ["why", "scenarios/mine.toml", "--by", "cost"]
    assert "EUR/kg" in run(*pasted).out
    path = Path("scenarios/mine.toml")
    text = path.read_text(encoding="utf-8").replace(
        '"change", "kind change", "count", "cost"', '"cost"'
    )
    path.write_text(text, encoding="utf-8")
    assert "which is the first aim" not in run("why", path).out


@pytest.mark.usefixtures("kitchen")
@pytest.mark.parametrize(
    ("arguments", "following"),
    [
        (("substitute", "--without", "almond oil"), "`optimiser pour FILE`"),
        (
            ("substitute", "--without", "almond oil"),
            "`optimiser label scenarios/mine.toml --formula FILE`",
        ),
        (("stock",), "`optimiser pour scenarios/mine.toml`"),
        (("pour",), "`optimiser calibrate`"),
        (("fats",), "`optimiser pour`"),
        (("why",), "`optimiser variants scenarios/mine.toml`"),
    ],
)
def test_a_page_names_the_command_that_comes_next(run, arguments, following):
    command, *more = arguments
    done = run(command, "scenarios/mine.toml", *more)
    assert done.code == 0
    last = " ".join(done.out.split()).rpartition("Next: ")[2]
    assert following in last


@pytest.mark.usefixtures("kitchen")
def test_a_mould_in_centimetres_is_read_and_shown(run):
    for depth in ("2 cm", "2cm", "20"):
        done = run("pour", "mine.csv", "--depth", depth)
        assert done.out.splitlines()[1].startswith("mould 20 mm deep")


@pytest.mark.usefixtures("kitchen")
def test_a_window_within_the_doubt_is_told_where_it_is_to_be_used(run):
    told = " ".join(run("pour", "mine.csv").out.split())
    assert "That window may not be there:" in told.partition("WHERE IT SETS")[0]


@pytest.mark.usefixtures("kitchen")
def test_a_fat_of_ones_own_without_figures_is_told_not_passed_over(run):
    own = Path("catalogues/workshops/demo/ingredients.csv")
    head = Path("catalogues/materials/ingredients.csv").read_text(encoding="utf-8")
    names = head.splitlines()[0].split(",")
    row = dict.fromkeys(names, "") | {
        "key": "my_butter",
        "name": "my butter",
        "category": "hard butter",
        "vegan": "yes",
        "palm": "no",
        "stage": "melt",
    }
    own.write_text(f"{','.join(names)}\n{','.join(row.values())}\n", encoding="utf-8")
    text = RECIPE.replace("shea butter", "my butter")
    Path("own.csv").write_text(text, encoding="utf-8")
    assert run("begin", ".", "--from", "own.csv", "--product", "lip balm").code == 0
    shown = " ".join(run("formulate", "scenarios/own.toml").out.split())
    assert "not judged: no figures of how my butter melts" in shown


@pytest.mark.usefixtures("kitchen")
def test_a_substitute_among_everything_looks_at_its_like_and_says_so(run):
    path = Path("scenarios/mine.toml")
    text = path.read_text(encoding="utf-8")
    before, _, after = text.partition("[only]")
    path.write_text(before + after.partition("]\n\n")[2], encoding="utf-8")
    done = run("substitute", path, "--without", "almond oil", "--json")
    told = json.loads(done.out)
    assert told["not_looked_at"] > 20
    came = told["came_in"][0]
    from optimiser.reading import read_catalogue  # noqa: PLC0415

    catalogue = read_catalogue(Path("catalogues"), "demo")
    assert catalogue.ingredients[catalogue.find(came)].kind == "light"
    page = " ".join(run("substitute", path, "--without", "almond oil").out.split())
    assert f"{told['not_looked_at']} ingredients unlike it were not" in page


@pytest.mark.usefixtures("kitchen")
@pytest.mark.parametrize("name", ["mine.json", "mine.xlsx", "formula.toml"])
def test_a_formula_given_as_a_scenario_is_told_how_to_begin_from_it(run, name):
    Path(name).write_text('[formula]\n"beeswax" = 100\n', encoding="utf-8")
    done = run("batch", name, "--units", "3", "--net", "25 g")
    assert done.code == 1
    what = "formula" if name.endswith(".toml") else "table"
    assert f"{name}: is a {what}, not a scenario" in done.err
    assert "optimiser begin FOLDER --from" in done.err


@pytest.mark.usefixtures("kitchen")
def test_a_table_given_as_a_scenario_is_told_how_to_begin_from_it(run):
    done = run("stock", "mine.csv")
    assert done.code == 1
    assert "mine.csv: is a table, not a scenario" in done.err
    assert "optimiser begin FOLDER --from" in done.err


@pytest.mark.usefixtures("kitchen")
def test_a_survey_uses_the_remembered_workshop(run):
    names = Path("catalogues/workshops/demo/recipe_names.csv")
    names.write_text("written,stands_for\nhive gold,beeswax\n", encoding="utf-8")
    table = "recipe,class,ingredient,amount,unit\nA,balm,hive gold,20,g\nA,,shea,80,g\n"
    Path("theirs.csv").write_text(table, encoding="utf-8")
    assert "'hive gold' is not known" not in run("survey", "theirs.csv").out


@pytest.mark.usefixtures("kitchen")
def test_a_word_of_what_the_base_holds_is_told_first(run):
    done = run("substitute", "scenarios/mine.toml", "--without", "almond")
    assert done.code == 1
    assert "your base has sweet almond oil" in done.err


@pytest.mark.usefixtures("kitchen")
def test_a_scenario_named_without_its_folder_is_found_there(run):
    done = run("formulate", "mine.toml")
    assert done.code == 1
    assert "the nearest file is scenarios/mine.toml" in done.err


ALONE = ("--market", "EU", "--use", "leave-on")
HEAD = "ingredient,amount,unit"


@pytest.mark.usefixtures("workspace")
@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            f'{HEAD}\nshea butter,"50,5",g\nbeeswax,"1,000",g\n',
            "row 3, column amount: 'beeswax 1,000 g' may be 1000 or 1.000",
        ),
        (f"{HEAD}\nshea butter,50,g,700\nbeeswax,5,g\n", "row 2: the row has 4 cells"),
        (
            f"{HEAD}\nshea butter,fifty,g\nbeeswaxx,50,g\n",
            "row 3, column ingredient: 'beeswaxx' is not a known ingredient",
        ),
        ("name,percent\nbeeswax,100\n", "or ingredient,amount,unit"),
        ("what is it,amount\nbeeswax,100\n", "write the header row ingredient,amount"),
        (f"{HEAD}\n{'x' * 200000},1,g\n", "row 2: has a cell that is too long"),
    ],
)
def test_what_cannot_be_read_of_a_formula_is_told_as_it_is(run, text, said):
    Path("mine.csv").write_text(text, encoding="utf-8")
    done = run("check", "mine.csv", *ALONE)
    assert done.code == 1
    assert said in done.err


@pytest.mark.usefixtures("workspace")
def test_a_column_of_amounts_that_does_not_count_is_told(run):
    text = "ingredient,percent,amount\nshea butter,75,9\nbeeswax,25,1\n"
    Path("mine.csv").write_text(text, encoding="utf-8")
    told = " ".join(run("check", "mine.csv", *ALONE).out.split())
    assert "column percent counts, and amount is not read" in told


@pytest.mark.usefixtures("workspace")
def test_a_sum_that_misses_100_by_little_is_told_with_its_digits(run):
    text = "ingredient,percent\nshea butter,75.04\nbeeswax,25\n"
    Path("mine.csv").write_text(text, encoding="utf-8")
    told = " ".join(run("check", "mine.csv", *ALONE).out.split())
    assert "breaks 1 rule of 2" in told
    assert "now 100.04 %" in told


@pytest.mark.usefixtures("workspace")
def test_thousands_of_unknown_names_are_told_by_the_first_and_a_count(run):
    rows = [f"zzz{n},1" for n in range(100)]
    text = "\n".join(["ingredient,percent", *rows])
    Path("mine.csv").write_text(text, encoding="utf-8")
    done = run("check", "mine.csv", *ALONE)
    assert "column ingredient, in 40 rows: is not a known ingredient" in done.err
    assert done.err.count(": 'zzz") == 40
    assert "and 60 more problems like these are not shown" in done.err


@pytest.mark.usefixtures("workspace")
def test_a_link_to_nothing_is_told_as_one(run):
    Path("mine.csv").symlink_to("gone.csv")
    assert "mine.csv: is a link to a file that" in run("check", "mine.csv", *ALONE).err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("workshop = 3", "key workshop: '3' is no text in quotes"),
        ('workshp = "demo"', "key workshp: is not a known key"),
        ('workshop = "gone"', "'gone' is not a workshop of catalogues/workshops"),
    ],
)
def test_a_wrong_file_of_the_workspace_is_told_as_it_is(run, workspace, text, said):
    (workspace / "catalogues" / "workspace.toml").write_text(text, encoding="utf-8")
    for command in ("list", "check"):
        done = run("catalogue", command)
        assert done.code == 1
        assert said in done.err


@pytest.mark.usefixtures("workspace")
def test_a_survey_of_which_nothing_can_be_used_needs_attention(run):
    Path("r.csv").write_text("recipe,ingredient,amount,unit\nA,zzz,1,g\n", "utf-8")
    assert run("survey", "r.csv").code == 1


@pytest.mark.usefixtures("workspace")
@pytest.mark.parametrize(
    ("more", "said"),
    [
        (
            '[[windows]]\nproperty = "firmness"\nat = "25 degC"\n'
            'min = "as the base at 500 degC"\n',
            "key windows[1].min: '500 degC' is not between",
        ),
        (
            '[[windows]]\nproperty = "firmness"\nat = "25 degC"\nmin = "as a base"\n',
            "'as a base' is neither a number nor \"as the base\"",
        ),
        ("[amounts]\nstep = 0.5\nscnt = 1\n", "the categories are hard butter, "),
        ("[amounts]\n", "key amounts: is empty"),
        ("x = \x1b[31m1\n", "take the sign out that does not show"),
    ],
)
def test_what_does_not_fit_a_scenario_is_told_where_it_stands(run, more, said):
    path = Path("scenarios/bar.toml")
    path.write_text(f"{path.read_text(encoding='utf-8')}\n{more}", encoding="utf-8")
    done = run("formulate", path)
    assert done.code == 1
    assert said in done.err
    assert "\x1b" not in done.err


@pytest.mark.usefixtures("workspace")
def test_options_that_mean_nothing_are_refused(run):
    bar = "scenarios/bar.toml"
    for batch in ("٣ kg", "٣kg"):
        assert run("formulate", bar, "--batch", batch).code == 1
    done = run("tradeoff", bar, "--write", "turn", "x.txt")
    assert "'x.txt' is neither a table nor a scenario" in done.err
    assert not Path("x.txt").exists()


def test_a_name_too_long_for_a_folder_is_told_with_what_to_do(run, tmp_path):
    done = run("begin", tmp_path / ("a" * 300))
    assert done.code == 1
    assert "has a name that is too long" in done.err
    assert "give it a shorter one" in done.err


def test_help_that_nobody_reads_to_the_end_is_no_failure():
    reading, writing = os.pipe()
    os.close(reading)
    command = [sys.executable, "-m", "optimiser", "--help"]
    try:
        done = subprocess.run(command, stdout=writing, stderr=-1, check=False)
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.usefixtures("kitchen")
def test_whose_prices_are_invented_is_told_by_name_once_some_are_own(run):
    def head():
        shown = run("formulate", "scenarios/mine.toml").out.partition("\n\n")[0]
        return " ".join(shown.split())

    assert ", prices invented" in head()
    names = ("refined shea butter", "coconut oil", "sweet almond oil")
    for name in (*names, "mixed tocopherols", "lavender oil"):
        priced(f"{name},500,g,9,,EUR,,")
    assert ", price of beeswax invented" in head()
    priced("beeswax,500,g,9,,EUR,,")
    assert ", prices invented only of what is not in it" in head()


@pytest.mark.usefixtures("kitchen")
def test_every_page_that_has_costs_names_the_prices_that_are_invented(run):
    names = ("refined shea butter", "coconut oil", "sweet almond oil")
    for name in (*names, "mixed tocopherols", "lavender oil"):
        priced(f"{name},500,g,9,,EUR,,")
    asked = {
        "why": (),
        "tradeoff": (),
        "substitute": ("--without", "coconut oil"),
        "trials": ("--bars", "1"),
        "sweep": (),
        "survey": ("--class", "balm"),
    }
    table = "recipe,class,ingredient,amount,unit\nA,balm,beeswax,20,g\nA,,shea,80,g\n"
    Path("theirs.csv").write_text(table, encoding="utf-8")
    for command, more in asked.items():
        file = "theirs.csv" if command == "survey" else "scenarios/mine.toml"
        shown = run(command, file, *more).out
        head = " ".join(shown.split())[:400]
        assert re.search(r"; prices? of [a-z, 0-9-]+ invented", head), shown
        assert "some prices invented" not in shown
    stock = Path("catalogues/workshops/demo/stock.csv")
    stock.write_text(stock.read_text(encoding="utf-8").splitlines()[0] + "\n", "utf-8")
    shown = run("buy", "scenarios/mine.toml", "--batch", "5 kg").out
    assert "; price of beeswax invented" in " ".join(shown.split())
    (wax,) = [x for x in shown.splitlines() if x.lstrip().startswith("beeswax  ")][:1]
    assert " invented " in wax
    (almond,) = [x for x in shown.splitlines() if "almond oil  " in x][:1]
    assert " yours " in almond
    priced("beeswax,500,g,9,,EUR,,")
    assert "invented" not in run("buy", "scenarios/mine.toml", "--batch", "5 kg").out


@pytest.mark.usefixtures("workspace")
def test_a_nut_free_answer_says_how_many_cautions_it_leaves_out(run):
    path = "scenarios/bar.toml"
    left = re.search(r"(\d+) more cautions?: --full", run("formulate", path).out)
    shown = json.loads(run("formulate", path, "--json").out)["cautions"]
    assert 0 < int(left[1]) < len(shown)
