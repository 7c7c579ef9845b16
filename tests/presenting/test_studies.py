"""Reports on studies: what each says in the corners that the demo files do not meet."""

import json
from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from optimiser.cli.studying import Bar
from optimiser.domain.scenario import Exclusions
from optimiser.explaining.answer import AllergenLine
from optimiser.presenting import as_json
from optimiser.presenting.sheet import as_sheet
from optimiser.presenting.studies import data, tables
from optimiser.presenting.studies.blocks import allergen_items, formulas_table
from optimiser.presenting.studies.robust import robust_page
from optimiser.presenting.studies.stock import stock_page
from optimiser.presenting.studies.substitute import substitute_page
from optimiser.presenting.studies.sweep import summary, sweep_page
from optimiser.presenting.studies.themes import _news as theme_news
from optimiser.presenting.studies.themes import themes_page
from optimiser.presenting.studies.tradeoff import _news as curve_news
from optimiser.presenting.studies.tradeoff import tradeoff_page
from optimiser.presenting.studies.variants import different_in_words, variants_page
from optimiser.presenting.terminal import as_text
from optimiser.studies.robust import Doubt, robust
from optimiser.studies.stock import stock
from optimiser.studies.substitute import substitute
from optimiser.studies.sweep import Group, sweep
from optimiser.studies.themes import themes
from optimiser.studies.tradeoff import tradeoff
from optimiser.studies.tradeoff.curve import Step
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


def flat(page):
    """A page as one line."""
    return " ".join(as_text(page, 80).split())


def test_rules_that_hold_a_substitute_are_told_with_what_room_would_do():
    limits = (
        bound("olive", None, 20, table="limits"),
        bound("shea", None, 28, table="limits"),
    )
    bands = (
        bound("hard butter", 30, 60), bound("soft butter", 10), bound("liquid oil", 10),
    )  # fmt: skip
    found = substitute(asked(limits=limits, bands=bands), known(), ["almond"])
    text = flat(substitute_page(found, full=True))
    assert "olive at most 20 %: with more room it would be" in text
    assert "% closer to the base by category for each %" in text
    assert "By category: 19.0 % liquid oil went to" in text
    told = json.loads(as_json(data.substitute_data(found)))
    assert told["held_by"]
    assert told["base"]["title"] == "base"


def test_a_swap_without_a_runner_up_says_so():
    found = substitute(asked(), known(), ["almond"])
    text = flat(substitute_page(found, full=True))
    assert "NEXT CLOSEST None: nothing else of its category may be chosen." in text
    assert " less than the base; " in text


def test_a_rule_given_up_is_told():
    found = substitute(asked(), known(), ["lavender"])
    text = flat(substitute_page(found, full=True))
    assert "'lavender exactly 1 %' went with it, for it could not be kept." in text
    assert "No other scent is among what the scenario may choose from" in text


def test_nothing_moved_is_said():
    found = substitute(asked(), known(), ["kokum"])
    text = flat(substitute_page(found, full=True))
    assert "By ingredient: nothing moved." in text
    assert "Materials cost the same as the base." in text


def test_variants_say_which_aims_they_let_go():
    of = asked(aims=("change", "cost"))
    found = variants(of, known(), 2, 50.0, Different(5.0, 2.0, True))
    text = flat(variants_page(found, full=True))
    assert "the aims of the scenario (least change from the base and cost)" in text
    assert "at least 5 % different (by category 2 %) and of another set" in text


def test_no_other_variant_at_all_is_said():
    of = asked(bands=(bound("hard butter", 99.0), bound("kokum", None, 0.5)), pins=())
    found = variants(of, known(), 3, 10.0, Different(90.0))
    text = flat(variants_page(found, full=True))
    assert (
        "No more exist: no other formula that keeps every rule is as different" in text
    )
    assert different_in_words(Different(0.0, 3.0)) == (
        "at least 3 % different by category"
    )


def test_themes_that_do_not_go_together_are_marked():
    def read(**out):
        return asked(exclude=Exclusions(**out)), known()

    no_almond = read(ingredients=("almond",))
    no_olive = read(ingredients=("olive",))
    found = themes(
        (asked(), known()), [("a", no_almond), ("b", no_olive)], [(0, 1, no_olive)]
    )
    text = flat(themes_page(found, full=True))
    assert "a + b: these cannot all hold: " in text
    assert " no " in text
    assert "theme,cost_per_kg," in tables.themes_sheet(found).csv


def test_a_theme_is_told_with_what_it_costs_more_and_what_comes_and_goes():
    no_olive = asked(exclude=Exclusions(ingredients=("olive",))), known()
    found = themes((asked(), known()), [("no olive", no_olive)])
    plain, alone = found.plain.formula, found.alone[0].formula
    # Olive at 8 a kg is the cheap oil, up to the 45 % of the band.
    assert "olive" in plain.amounts
    more = round(alone.cost_per_kg, 2) - round(plain.cost_per_kg, 2)
    assert more > 0.5
    text = flat(themes_page(found))
    assert f"{more:+.2f}" in text
    assert "in: almond; out: olive" in text


def made(*keys):
    return SimpleNamespace(
        amounts=dict.fromkeys(keys, 10.0),
        formula=[SimpleNamespace(ingredient=key, name=f"{key} oil") for key in keys],
    )


def test_only_the_first_few_that_come_and_go_are_named():
    plain, other = made("x", "y"), made("a", "b", "c", "d")
    assert (
        theme_news(other, plain) == "in: a oil, b oil and 2 more; out: x oil and y oil"
    )
    assert theme_news(plain, plain) == ""
    one, two = (SimpleNamespace(formula=each) for each in (plain, other))
    assert curve_news(one, two) == (
        "in: a oil, b oil, c oil and 1 more; out: x oil and y oil"
    )
    assert curve_news(one, one) == ""


def test_a_curve_without_an_elbow_is_told_plainly():
    found = tradeoff(asked(), known(), ("cost", "change"))
    text = flat(tradeoff_page(found))
    assert "The bargain turns at " in text
    assert " % cheaper if " in text.split("THE CURVE")[0]
    assert "turns" not in flat(tradeoff_page(replace(found, elbow=None)))
    bare = flat(tradeoff_page(replace(found, steps=())))
    assert " % cheaper" not in bare.split("THE CURVE")[0]


def test_fewer_ingredients_and_less_fat_are_told_in_their_own_words():
    text = flat(tradeoff_page(tradeoff(asked(), known(), ("cost", "count"))))
    assert "cost against count" in text
    assert "Nothing is to be traded: one formula, at 13.48 EUR/kg, is best" in text
    found = tradeoff(asked(), known(), ("cost", "solid fat at 30 degC"))
    text = flat(tradeoff_page(found, full=True))
    assert "less solid fat at 30 °C" in text
    assert "lies between their values" in text


@pytest.mark.parametrize(
    ("further", "said"),
    [
        ((7.2, 8.6), "the next 5 % needs 8.6."),
        ((7.2, 8.6, 9.1), "the next 5 % needs 8.6 and the next 9.1."),
        ((8.6, 8.6, 8.6, 8.6), "each of the next three steps of 5 % needs 8.6."),
        (
            (7.2, 8.6, 8.601, 9.1, 9.5, 9.5),
            "each of the next two steps of 5 % needs 8.6, the next 9.1 and each of the"
            " next two 9.5.",
        ),
        ((7.2, 8.6, 9.1, 9.1), "the next 5 % needs 8.6 and each of the next two 9.1."),
    ],
)
def test_steps_that_need_the_same_are_told_together(further, said):
    found = tradeoff(asked(), known(), ("cost", "change"))
    steps = tuple(
        Step(5.0 * number, 0.0, each) for number, each in enumerate(further, start=1)
    )
    page = flat(tradeoff_page(replace(found, steps=steps)))
    first = f"5 % cheaper if {further[0]} % of the formula is different from the base"
    assert f"{first}; {said}" in page


def test_one_step_is_told_without_a_next_one():
    found = tradeoff(asked(), known(), ("cost", "change"))
    text = flat(tradeoff_page(replace(found, steps=found.steps[:1])))
    assert " % of the formula is different from the base. The bargain turns" in text


def test_what_the_base_lacks_and_units_are_told():
    found = stock(asked(), known(SHELF), 0.06, 5.0)
    text = flat(stock_page(found, full=True))
    assert "The base as written cannot be made: no almond is on the shelf." in text
    assert "units of 60 g, 5 % lost" in text
    small = stock(asked(base={}), known(SHELF), 100.0)
    assert "Not one unit: the shelf makes " in flat(stock_page(small))


def test_lots_add_up_to_the_grams_shown_and_untouched_ones_are_not():
    shelf = [
        ("cocoa", 1.0), ("shea", 0.0333333), ("shea", 0.0555555), ("shea", 1.0),
        ("olive", 1.0), ("olive", 1.0), ("lavender", 0.01777),
    ]  # fmt: skip
    found = stock(asked(base={}), known(shelf))
    page = stock_page(found, full=True)
    lots, formula = (
        next(section.blocks[0] for section in page.sections if section.title == title)
        for title in ("What to take, oldest lots first", "Formula")
    )
    names, percents, _, takes, *_ = (column.cells for column in lots.columns)
    grams_of = next(each for each in formula.columns if each.head == "g")
    rows = dict(zip(formula.columns[0].cells, grams_of.cells, strict=True))
    for name in ("cocoa", "shea", "olive", "lavender"):
        taken = [t.text for n, t in zip(names, takes, strict=True) if n == name]
        grams = sum(round(100 * float(each)) for each in taken)
        assert grams == round(100 * float(rows[name].text)), name
    assert "0.0" not in {each.text for each in takes}
    assert len(names) < len(found.takes)
    # The share of an ingredient stands once, at its first lot.
    shown = [each for each in percents if each]
    assert len(shown) == len(set(names)) < len(names)


def test_formulas_side_by_side_have_one_number_of_decimals():
    found = themes((asked(), known()), [], [])
    made = found.plain.formula
    third = replace(made, amounts={"cocoa": 33.25, "shea": 65.75, "lavender": 1.0})
    for formulas, decimals in (([made], 1), ([made, third], 2)):
        names, *shares = formulas_table(formulas).columns
        cells = [
            cell.text
            for column in shares
            for name, cell in zip(names.cells, column.cells, strict=True)
            if name != "lavender"
        ]
        shown = {len(c.partition(".")[2]) for c in cells if "." in c}
        assert shown == {decimals}
    table = formulas_table([made], [made, third])
    assert table.columns[1].cells[-1].text == "100.00"


def test_a_premium_below_nothing_is_explained():
    found = robust(asked(), known(), Doubt(), (0.5,), draws=20)
    surer = replace(found.budgets[0].simulated, kept=1.0)
    cheaper = replace(found.budgets[0], premium=-0.73, simulated=surer)
    found = replace(found, simulated=replace(found.simulated, kept=0.9))
    told = flat(robust_page(replace(found, budgets=(cheaper,))))
    assert "the plain formula does not aim at cost first" in told
    assert "below nothing" not in flat(robust_page(found, full=True))


def test_a_formula_that_is_no_surer_is_not_listed_as_one():
    found = robust(asked(), known(), Doubt(), (0.5, 1.0), draws=20)
    assert all(each.formula and each.simulated for each in found.budgets)

    def told(first, second):
        rows = (
            replace(row, simulated=replace(row.simulated, kept=share))
            for row, share in zip(found.budgets, (first, second), strict=True)
        )
        plain = replace(found.simulated, kept=0.8954)
        return replace(found, simulated=plain, budgets=tuple(rows))

    text = flat(robust_page(told(0.89541, 0.9551)))  # the first by less than is shown
    assert "No surer in the tries: prepared for 0.5 (89.5 %)." in text
    assert " 0.5 " not in text.partition("No surer")[0]
    assert "95.5" in text.partition("No surer")[0]
    for full in (False, True):
        text = flat(robust_page(told(0.8954, 0.755), full=full))
        assert "None that is surer in the tries was found." in text
        assert (
            "No surer in the tries: prepared for 0.5 (89.5 %) and 1 (75.5 %)." in text
        )
        assert "all rules kept, %" not in text


def test_robustness_without_prices_or_figures_in_doubt_is_told():
    of = asked(windows=(window("solid fat", 25.0, None, at=30.0, over="butters"),))
    found = robust(of, known(), Doubt(0.0, 0.0, figures=False), (1.0,), draws=10)
    text = flat(robust_page(found, full=True))
    assert "Every rule is kept in 100.0 % of 10 tries." in text
    assert "RULES THAT MAY BE MISSED" not in text
    assert "It can be prepared for all of them." in text


def test_stopped_and_impossible_budgets_are_told():
    of = asked(windows=(window("solid fat", 38.0, None, at=30.0, over="lipids"),))
    found = robust(of, known(), Doubt(), (50.0,), draws=100)
    text = flat(robust_page(replace(found, stopped=True)))
    assert "Stopped early" in text
    bare = replace(found.simulated, cost=None)
    text = as_text(robust_page(replace(found, simulated=bare, budgets=())), 80)
    assert "What it costs is not known: some price is missing." in text
    assert "FORMULAS THAT ARE SURER" not in text


def test_the_summary_of_a_sweep_counts_what_was_not_answered():
    clash = asked(bands=(bound("hard butter", 60), bound("liquid oil", 60)))
    groups = [
        Group({"market": ["EU", "US"]}, asked(), known()),
        Group({"market": True}, clash, known()),
        Group({"market": None}, asked(), replace(known(), prices={})),
    ]
    found = sweep(groups)
    assert summary(replace(found, stopped=True)).startswith(
        "1 of 3 cases answered, 1 with rules that clash, 1 that lack something;"
        " stopped after 3; "
    )
    assert "EU US" in tables.sweep_sheet(found).csv
    header, rows = tables.sweep_rows(found, tall=True)
    assert len(rows[-1]) == len(header)
    told = flat(sweep_page(found))
    assert "1 of 3 cases answered, 1 with rules that clash, 1 that lack" in told
    assert " EU US " in told
    assert " the rules clash" in told
    assert told.count(" none ") == 2


def test_a_table_for_a_spreadsheet_holds_no_sums_and_no_endless_numbers():
    text = as_sheet("a", ("a", "b"), [("=1+1", float("inf")), (None, 0.1)]).csv
    assert text == "a,b\n'=1+1,\n,0.1\n"


@pytest.mark.parametrize("terminal", [True, False])
def test_a_bar_is_drawn_on_a_terminal_only(monkeypatch, capsys, terminal):
    monkeypatch.setattr("sys.stderr.isatty", lambda: terminal, raising=False)
    monkeypatch.setattr("optimiser.cli.studying.WAIT", -1.0)
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


SHEA = AllergenLine("tree nut", "shea", ("US",))
SOY = AllergenLine("soy", "lecithin", ("US",))


@pytest.mark.parametrize(
    ("held", "among", "told"),
    [
        # what all hold and the base does too is old, but not if it is asked for alone
        (([SHEA], [SHEA]), True, []),
        (([SHEA], [SHEA]), False, ["shea: tree nut, listed in US - in all"]),
        (([SHEA, SOY], [SHEA]), True, ["lecithin: soy, listed in US - in A"]),
        (
            ([replace(SHEA, new=True)], [replace(SHEA, new=True)]),
            True,
            ["shea: tree nut, listed in US, new against your base - in all"],
        ),
        (([], []), True, []),
        (([], []), False, ["None that an authority lists."]),
    ],
)
def test_allergens_are_told_by_the_formulas_that_hold_them(held, among, told):
    formulas = [
        SimpleNamespace(title=title, allergens=lines)
        for title, lines in zip("AB", held, strict=True)
    ]
    assert [each.text for each in allergen_items(formulas, among=among)] == told
