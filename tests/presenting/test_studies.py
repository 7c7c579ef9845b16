"""Reports on studies: what each says in the corners that the demo files do not meet."""

import json

import pytest
from msgspec.structs import replace

from optimiser.cli.progress import Bar
from optimiser.domain.scenario import Exclusions
from optimiser.presenting import as_json
from optimiser.presenting.studies import robust as robust_text
from optimiser.presenting.studies import stock as stock_text
from optimiser.presenting.studies import substitute as substitute_text
from optimiser.presenting.studies import sweep as sweep_text
from optimiser.presenting.studies import themes as themes_text
from optimiser.presenting.studies import tradeoff as tradeoff_text
from optimiser.presenting.studies import variants as variants_text
from optimiser.presenting.studies.common import as_csv, formulas_table
from optimiser.studies.robust import Doubt, robust
from optimiser.studies.stock import stock
from optimiser.studies.substitute import substitute
from optimiser.studies.sweep import Group, sweep
from optimiser.studies.themes import themes
from optimiser.studies.tradeoff import tradeoff
from optimiser.studies.variants import Different, variants
from tests.rules.workbench import bound, catalogue, figure, pin, scenario, window

KINDS = {
    "cocoa": "hard butter", "kokum": "hard butter", "shea": "soft butter",
    "almond": "liquid oil", "olive": "liquid oil", "lavender": "scent",
}  # fmt: skip
PRICES = dict(zip(KINDS, (20.0, 24.0, 12.0, 13.0, 8.0, 100.0), strict=True))
FATS = dict(zip(KINDS, (80.0, 88.0, 30.0, 0.0, 0.0, 0.0), strict=True))
BASE = {"cocoa": 40.0, "shea": 20.0, "almond": 39.0, "lavender": 1.0}
SHELF = [("cocoa", 1.0), ("shea", 1.0), ("olive", 1.0), ("lavender", 0.1)]


def known(shelf=(), **more):
    fats = {
        key: {30.0: figure(value, value * 0.9, value * 1.1)}
        for key, value in FATS.items()
        if key != "lavender"
    }
    return catalogue(
        KINDS, prices=PRICES, figures={"solid fat": fats}, stock=shelf, **more
    )


def asked(**more):
    bands = (
        bound("hard butter", 30, 50),
        bound("soft butter", 10, 30),
        bound("liquid oil", 20, 45),
    )
    plain = {"base": BASE, "bands": bands, "pins": (pin("lavender", 1.0),)}
    return scenario(**(plain | more))


def flat(text):
    return " ".join(text.split())


def test_rules_that_hold_a_substitute_are_told_with_what_room_would_do():
    limits = (
        bound("olive", None, 20, table="limits"),
        bound("shea", None, 28, table="limits"),
    )
    bands = (
        bound("hard butter", 30, 60), bound("soft butter", 10), bound("liquid oil", 10),
    )  # fmt: skip
    found = substitute(asked(limits=limits, bands=bands), known(), ["almond"])
    text = flat(substitute_text.substitute_report(found, 80))
    assert "olive at most 20 %: with more room it would be" in text
    assert "points closer by category for each %" in text
    assert "By category: 19.0 points of liquid oil went to" in text
    assert json.loads(as_json(substitute_text.substitute_data(found)))["held_by"]


def test_a_swap_without_a_runner_up_says_so():
    found = substitute(asked(), known(), ["almond"])
    text = flat(substitute_text.substitute_report(found, 80))
    assert "RUNNERS-UP None: without these nothing keeps every rule." in text
    assert "EUR per kg less than the base" in text


def test_a_rule_given_up_is_told():
    found = substitute(asked(), known(), ["lavender"])
    text = flat(substitute_text.substitute_report(found, 80))
    assert "'lavender exactly 1 %' went with it, for it could not be kept." in text
    assert "No other scent is among what the scenario may choose from" in text


def test_nothing_moved_is_said():
    found = substitute(asked(), known(), ["kokum"])
    text = flat(substitute_text.substitute_report(found, 80))
    assert "By ingredient: nothing moved." in text
    assert "Materials cost the same as the base." in text


def test_variants_say_which_aims_they_let_go():
    of = asked(aims=("change", "cost"))
    found = variants(of, known(), 2, 50.0, Different(5.0, 2.0, True))
    text = flat(variants_text.variants_report(found, 80))
    assert "the aims of the scenario (least change from the base and cost)" in text
    assert "5 points by ingredient and 2 by category and another set" in text


def test_no_other_variant_at_all_is_said():
    of = asked(bands=(bound("hard butter", 99.0), bound("kokum", None, 0.5)), pins=())
    found = variants(of, known(), 3, 10.0, Different(90.0))
    text = flat(variants_text.variants_report(found, 80))
    assert (
        "No more exist: no other formula that keeps every rule is as different" in text
    )
    assert variants_text.different_in_words(Different(0.0, 3.0)) == (
        "at least 3 points by category"
    )


def test_themes_that_do_not_go_together_are_marked():
    def read(**out):
        return asked(exclude=Exclusions(**out)), known()

    no_almond = read(ingredients=("almond",))
    no_olive = read(ingredients=("olive",))
    found = themes(
        (asked(), known()), [("a", no_almond), ("b", no_olive)], [(0, 1, no_olive)]
    )
    text = flat(themes_text.themes_report(found, 80))
    assert "a + b: these cannot all hold: " in text
    assert " no " in text
    assert "theme,cost_per_kg," in themes_text.themes_csv(found)


def test_a_curve_without_an_elbow_is_told_plainly():
    found = tradeoff(asked(), known(), ("cost", "change"))
    text = flat(tradeoff_text.tradeoff_report(replace(found, elbow=None), 80))
    assert "The elbow" not in text
    bare = tradeoff_text.tradeoff_report(replace(found, steps=()), 80)
    assert " % cheaper" not in bare.split("THE CURVE")[0]


def test_fewer_ingredients_and_less_fat_are_told_in_their_own_words():
    text = flat(
        tradeoff_text.tradeoff_report(tradeoff(asked(), known(), ("cost", "count")))
    )
    assert "cost against count" in text
    found = tradeoff(asked(), known(), ("cost", "solid fat at 30 degC"))
    text = flat(tradeoff_text.tradeoff_report(found, 80))
    assert "less solid fat at 30 °C" in text
    assert "lies between their values" in text


def test_one_step_is_told_without_a_next_one():
    found = tradeoff(asked(), known(), ("cost", "change"))
    text = flat(
        tradeoff_text.tradeoff_report(replace(found, steps=found.steps[:1]), 80)
    )
    assert "5 % cheaper for 7.29 points of change. The elbow is at C" in text


def test_what_the_base_lacks_and_units_are_told():
    found = stock(asked(), known(SHELF), 0.06, 5.0)
    text = flat(stock_text.stock_report(found, 80))
    assert "Cannot be made: no almond is on the shelf." in text
    assert "units of 60 g, 5 % lost" in text
    small = stock(asked(base={}), known(SHELF), 100.0)
    assert "Not one unit" in stock_text.stock_report(small, 80)


def test_lots_add_up_to_the_grams_shown_and_untouched_ones_are_not():
    shelf = [
        ("cocoa", 1.0), ("shea", 0.0333333), ("shea", 0.0555555), ("shea", 1.0),
        ("olive", 1.0), ("olive", 1.0), ("lavender", 0.01777),
    ]  # fmt: skip
    found = stock(asked(base={}), known(shelf))
    rows = stock_text.stock_report(found, 120).splitlines()
    formula = rows[rows.index("FORMULA") : rows.index("FROM WHICH LOTS, OLDEST FIRST")]
    lots = rows[rows.index("FROM WHICH LOTS, OLDEST FIRST") :]
    lots = [row.split() for row in lots[2 : lots.index("WHAT RUNS OUT FIRST") - 1]]
    for name in ("cocoa", "shea", "olive", "lavender"):
        line = next(row.split() for row in formula if row.startswith(f"  {name} "))
        grams = sum(round(100 * float(row[2])) for row in lots if row[0] == name)
        assert grams == round(100 * float(line[-3])), name
    assert "0.0" not in {row[2] for row in lots}
    assert len(lots) < len(found.takes)


def test_formulas_side_by_side_have_one_number_of_decimals():
    found = themes((asked(), known()), [], [])
    made = found.plain.formula
    third = replace(made, amounts={"cocoa": 33.25, "shea": 65.75, "lavender": 1.0})
    for formulas, decimals in (([made], 1), ([made, third], 2)):
        rows = formulas_table(formulas, 80)[1:]
        cells = [c for r in rows if "lavender" not in r for c in r.split()[1:]]
        shown = {len(c.partition(".")[2]) for c in cells if "." in c}
        assert shown == {decimals}
    assert formulas_table([made], 80, [made, third])[-1].split()[1] == "100.00"


def test_a_premium_below_nothing_is_explained():
    found = robust(asked(), known(), Doubt(), (0.5,), draws=20)
    cheaper = replace(found.budgets[0], premium=-0.73)
    told = flat(robust_text.robust_report(replace(found, budgets=(cheaper,)), 80))
    assert "the plain formula does not aim at cost first" in told
    assert "below nothing" not in flat(robust_text.robust_report(found, 80))


def test_robustness_without_prices_or_figures_in_doubt_is_told():
    of = asked(windows=(window("solid fat", 25.0, None, at=30.0, over="butters"),))
    found = robust(of, known(), Doubt(0.0, 0.0, figures=False), (1.0,), draws=10)
    text = flat(robust_text.robust_report(found, 80))
    assert "Every rule is kept in 100.0 % of the draws." in text
    assert "All of them at once can be borne." in text


def test_stopped_and_impossible_budgets_are_told():
    of = asked(windows=(window("solid fat", 38.0, None, at=30.0, over="lipids"),))
    found = robust(of, known(), Doubt(), (50.0,), draws=100)
    text = flat(robust_text.robust_report(replace(found, stopped=True), 80))
    assert "Stopped early" in text
    bare = replace(found.simulated, cost=None)
    text = robust_text.robust_report(replace(found, simulated=bare, budgets=()), 80)
    assert "Not known: some price is missing." in text
    assert "FORMULAS THAT BEAR MORE" not in text


def test_the_summary_of_a_sweep_counts_what_was_not_answered():
    clash = asked(bands=(bound("hard butter", 60), bound("liquid oil", 60)))
    groups = [
        Group({"market": ["EU", "US"]}, asked(), known()),
        Group({"market": True}, clash, known()),
        Group({"market": None}, asked(), replace(known(), prices={})),
    ]
    found = sweep(groups)
    assert sweep_text.summary(replace(found, stopped=True)).startswith(
        "1 of 3 cases answered, 1 with rules that clash, 1 that lack something;"
        " stopped after 3; "
    )
    assert "EU US" in sweep_text.sweep_csv(found)
    header, rows = sweep_text.sweep_rows(found, tall=True)
    assert len(rows[-1]) == len(header)


def test_a_table_for_a_spreadsheet_holds_no_sums_and_no_endless_numbers():
    text = as_csv(("a", "b"), [("=1+1", float("inf")), (None, 0.1)])
    assert text == "a,b\n'=1+1,\n,0.1\n"


@pytest.mark.parametrize("terminal", [True, False])
def test_a_bar_is_drawn_on_a_terminal_only(monkeypatch, capsys, terminal):
    monkeypatch.setattr("sys.stderr.isatty", lambda: terminal, raising=False)
    monkeypatch.setattr("optimiser.cli.progress.WAIT", -1.0)
    bar = Bar("cases")
    bar(5, 10)
    bar.close()
    shown = capsys.readouterr().err
    assert ("5 of 10 cases, Ctrl-C keeps them" in shown) == terminal
    bar = Bar("variants", keeps=False)
    bar(1, 4)
    bar.close()
    shown = capsys.readouterr().err
    assert ("1 of 4 variants, Ctrl-C ends it" in shown) == terminal
