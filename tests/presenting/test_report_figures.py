"""Figures and words of reports: what agrees with what, and how it is said."""

import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from optimiser import explaining
from optimiser.explaining.answer import (
    AllergenLine,
    Easing,
    Price,
    PropertyLine,
    RuleLine,
    WayOut,
)
from optimiser.presenting.facts import checked as checked_blocks
from optimiser.presenting.facts import holding
from optimiser.presenting.rules import near, ranked
from optimiser.reading import read_scenario
from tests.presenting import shown
from tests.presenting.shown import report

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


@pytest.mark.parametrize(
    ("cost", "base", "batch", "told"),
    [
        (15.2348, 19.5166, 2.0, "30.46 EUR for the batch of 2 kg."),
        (15.2348, 19.5166, 2.0, "15.23 EUR per kg, 4.29 less than your base (19.52)."),
        (10.0049, 10.0, 2.0, "10.00 EUR per kg, as much as your base."),
        (10.0051, 10.0, 100.0, "1001.00 EUR for the batch of 100 kg."),
    ],
)
def test_money_follows_from_the_figures_next_to_it(answer, cost, base, batch, told):
    changed = replace(answer, cost_per_kg=cost, base_cost_per_kg=base, batch_kg=batch)
    assert told in shown.report(changed, 120)


def test_the_table_and_the_paragraph_tell_one_total(answer):
    half = replace(answer.formula[0], cost_per_kg_product=17.495)
    text = shown.report(
        replace(answer, formula=(half,), cost_per_kg=17.494999999999997), 120
    )
    assert text.count("17.50") == 3  # the line, the total, the paragraph


def test_rules_are_counted_alike_everywhere(answer, checked):
    both = replace(checked, lines=(answer.rules[0], *checked.lines))
    text = shown.report(both, 80)
    assert "breaks 1 rule of 4" in text
    assert "4 rules checked: 3 yours, 1 by law." in text


@pytest.mark.parametrize(
    ("owners", "told"),
    [
        (["model", "supplier"], "1 limit of the model, 1 supplier's limit."),
        (["model"] * 2 + ["supplier"] * 2, "2 limits of the model, 2 suppliers' limit"),
        ([], "There was no rule to check."),
        (["arithmetic"], "There was no rule to check."),
    ],
)
def test_what_was_checked_is_told_in_words_that_fit_the_number(answer, owners, told):
    rules = [replace(answer.rules[1].rule, owner=owner) for owner in owners]
    assert told in shown.told(checked_blocks(rules, {}))


def test_a_rule_never_eased_tells_what_each_point_of_it_costs(answer):
    rule = replace(answer.rules[3].rule, limit=0.0, owner="safety")
    price = Price("change", -1.0, None)
    line = RuleLine(rule, 0.0, 0.0, True, ease=price)
    text = shown.report(replace(answer, rules=(line,)), 120)
    told = "each point that it keeps out adds 1 % to what is different from the base\n"
    assert told in text
    asks = RuleLine(replace(rule, side="min", limit=5.0), 5.0, 0.0, True, ease=price)
    assert "each point that it asks for adds 1 %" in shown.report(
        replace(answer, rules=(asks,)), 120
    )


def flat(text):
    return " ".join(text.split())


def test_no_line_of_a_formula_is_moved_far_to_make_it_add_up(answer):
    kinds = ("hard butter", "soft butter", "wax", "liquid oil")
    exact = (17.7, 16.23, 5.137, 60.933)
    formula = tuple(
        replace(answer.formula[0], ingredient=k, name=k, category=k,
                percent=p, grams=20 * p, base_percent=25.0)
        for k, p in zip(kinds, exact, strict=True)
    )  # fmt: skip
    text = shown.report(replace(answer, formula=formula), 80)
    wax = next(x for x in text.splitlines() if x.startswith("  wax ")).split()
    assert wax[1:3] == ["5.14", "102.7"]
    assert wax[-2:] == ["25.00", "-19.86"]
    assert "total 100.00 2000.0" in flat(text)
    assert "hard butter 17.70 (base 25.00)" in flat(text)


@pytest.mark.parametrize(
    ("ease", "tighten", "told"),
    [
        ((-0.9, 39.5), (0.9, 45.0), ("by 0.1 points saves 0.09", "by 0.1 points c")),
        ((-0.2, 30.0), (0.3, 45.0), ("by 1 point saves 0.20", "by 1 point costs 0.30")),
        (
            (-0.03, 39.5),
            (0.03, 45.0),
            (
                "easing saves 0.03 EUR/kg for each point, down to 39.5 %",
                "tightening costs 0.03 EUR/kg for each point, up to 45 %",
            ),
        ),
        (
            (-0.3, 30.0),
            (3e-5, 45.0),
            ("by 1 point saves 0.30", "by 1 point costs less than 0.01 EUR/kg"),
        ),
        (
            (-0.3, 39.999),
            (0.3, 45.0),
            ("but only to begin with", "up to 45 %"),
        ),
    ],
)
def test_both_sides_of_a_rule_are_told_for_one_step(answer, ease, tighten, told):
    line = replace(
        answer.rules[1], ease=Price("cost", *ease), tighten=Price("cost", *tighten)
    )
    text = flat(shown.report(replace(answer, rules=(line,)), 120))
    for each in told:
        assert each in text


def test_the_rules_told_are_all_that_were_checked(answer):
    free = RuleLine(replace(answer.rules[1].rule), None, None, binding=False)
    rules = (*answer.rules, free, free)
    text = flat(shown.report(replace(answer, rules=rules), 80))
    assert "7 rules checked" in text  # 3 hold, 1 nearly, 1 does nothing
    assert "1 rule does nothing here" in text
    assert "2 more rules are about ingredients that are not used." in text


@pytest.mark.parametrize("name", sorted(x.name for x in SCENARIOS.glob("*.toml")))
def test_the_rules_told_are_all_that_were_checked_in_every_scenario(name):
    asked, known = read_scenario(SCENARIOS / name)
    found = explaining.formulate(asked, known)
    text = flat(shown.report(found, 120))
    told = re.findall(r"(\d+) (?:more )?rules? (?:do|does|are|is) ", text)
    told += [len(ranked(found.rules, ()))]
    told += [len([*near(found.rules)])]
    assert re.search(r"(\d+) rules checked", text)[1] == str(sum(map(int, told)))


@pytest.mark.parametrize("slack", [0.0004, 0.0, -4e-16])  # the last is rounding
def test_very_little_room_is_told_as_such(answer, slack):
    line = replace(answer.rules[4], value=30.0 + slack, slack=slack)
    text = flat(shown.report(replace(answer, rules=(line,)), 120))
    assert "now 30 %, less than 0.01 points left" in text


def test_an_aim_that_left_room_to_the_next_tells_both_figures(answer):
    aims = (("change", 35.25, "points"), ("cost", 14.561, "EUR/kg"))
    left = replace(answer, aims=aims)
    text = flat(shown.report(replace(left, room={"change": 1.0}), 120))
    over = "change from the base at most 1 point over the least"
    assert f"Aim: {over} (35.25 points; here 36.25), then least cost" in text
    assert f"{over}: all of it is used from aim.slack.change" in text
    partly = flat(shown.report(replace(left, room={"change": 2.0}), 120))
    assert "at most 2 points over the least (35.25 points; here 36.25)" in partly
    assert "all of it is used" not in partly
    unsaid = flat(shown.report(left, 120))
    assert "change from the base over the least (35.25 points; here 36.25)" in unsaid
    unused = replace(answer, aims=(("change", 36.25, "points"), *aims[1:]))
    text = flat(shown.report(replace(unused, room={"change": 1.0}), 120))
    assert "least change from the base (36.25 points)" in text


def test_evidence_is_told_in_words_and_not_where_it_is_a_definition(answer):
    def text(evidence):
        rule = replace(answer.rules[3].rule, evidence=evidence)
        line = replace(answer.rules[3], rule=rule)
        return shown.report(replace(answer, rules=(line,)), 120)

    assert "weakest figure: recalled, not re-checked" in text("memory")
    assert "weakest figure: recalled, typical value only" in text("memory_low")
    assert "weakest figure" not in text("defined")


def test_allergen_tables_are_told_in_words(answer):
    told = (
        AllergenLine("tree nut", "shea butter", flag="delisted_us_2025"),
        AllergenLine(
            "tree nut", "argan oil", flag="botanical_nut_or_kernel_not_listed"
        ),
        AllergenLine("oats", "oat meal", flag="ask_the_mill"),
        AllergenLine("not known", "marula oil"),
    )
    text = shown.report(replace(answer, allergens=told), 80)
    text = flat(text)
    assert (
        "shea butter: no tree nut on any list here; the US list named it until January"
        " 2025"
    ) in text
    assert "argan oil: a kernel or botanical nut, no tree nut on any list here" in text
    assert "oat meal: oats, ask the mill" in text
    assert "marula oil: never classified, ask the supplier" in text


def test_a_short_page_tells_allergens_on_a_list_apart_from_those_to_ask_about(answer):
    told = (
        AllergenLine("soy", "tocopherols", ("CA", "US")),
        AllergenLine("tree nut", "shea butter", flag="delisted_us_2025"),
        AllergenLine("tree nut", "almond oil", ("EU", "US")),
        AllergenLine("not known", "marula oil"),
    )
    text = flat(report(replace(answer, allergens=told), 80, full=False))
    assert (
        "Allergens: tree nut (almond oil); soy (tocopherols; listed only in CA, US);"
        " ask: tree nut (shea butter) Not classified, ask the supplier: marula oil"
    ) in text
    none = flat(report(replace(answer, allergens=()), 80, full=False))
    assert "llergen" not in none


def test_an_easing_is_told_in_digits_that_differ(clash):
    easing = Easing(replace(clash.rules[0], limit=12.0), 11.99998)
    text = report(replace(clash, ways_out=(WayOut((easing,), None, None),)), 80)
    assert "-> 11.99998 %" in text


def test_what_left_the_base_stands_on_one_row_of_a_short_page(answer):
    line = answer.formula[0]
    kept = replace(line, percent=100.0, grams=2000.0, base_percent=70.0)
    gone = [
        replace(line, ingredient=x, name=x, percent=0.0, grams=0.0, base_percent=y)
        for x, y in (("an oil", 20.0), ("a wax", 10.0))
    ]
    many = replace(answer, formula=(kept, *gone))
    lines = report(many, 80, full=False).splitlines()
    row = next(each for each in lines if "out: an oil and a wax" in each)
    assert row.split()[-3:] == ["0.0", "0.0", "30.0"]
    total = next(each for each in lines if each.split()[:1] == ["total"])
    assert total.split()[1:] == ["100.0", "2000.0", "100.0"]
    more = [
        replace(gone[0], ingredient=x, name=x, base_percent=0.1)
        for x in ("an oil of a long and winding name", "another of such a name")
    ]
    longer = replace(many, formula=(kept, *gone, *more))
    assert "out: an oil, a wax and 2 more" in report(longer, 80, full=False)
    one = replace(many, formula=(replace(kept, base_percent=80.0), gone[0]))
    assert "an oil" in report(one, 80, full=False)
    assert "out:" not in report(one, 80, full=False)
    assert "a wax" in report(many, 80)


@pytest.mark.parametrize(("least", "told"), [(None, False), (30.0, True)])
def test_what_is_left_aside_is_told_of_what_a_window_asks_alone(least, told):
    line = PropertyLine(
        "firmness", 25.0, "lipids", 38.0, 40.0, 42.0, "", least=least,
        without=(("zorvex", 1.2),),
    )  # fmt: skip
    said = shown.told(holding([line]))
    assert ("zorvex" in said) is told
    assert ("firmness" in said) is told


def test_what_lacks_a_figure_is_told_as_not_known_with_what_a_window_asks():
    lines = [
        PropertyLine("firmness", 25.0, "lipids", None, None, None, "", most=30.0),
        PropertyLine("solid fat", 35.0, "lipids", 1.0, 2.0, 3.0, "%", most=5.0),
        PropertyLine("density", 20.0, "product", 1.0, 2.0, 3.0, "kg/m^3"),
    ]
    first, second = (each.whole for each in holding(lines))
    assert first.endswith(": not known")
    assert "2 % (" in second
