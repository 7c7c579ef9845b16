"""Figures and words of reports: what agrees with what, and how it is said."""

import pytest
from msgspec.structs import replace

from optimiser import presenting
from optimiser.explaining.answer import Easing, Price, RuleLine, WayOut
from optimiser.presenting.clash_text import clash_report
from optimiser.presenting.facts_text import checked_lines


@pytest.mark.parametrize(
    ("cost", "base", "batch", "told"),
    [
        (15.2348, 19.5166, 2.0, "15.23 EUR per kg, 30.46 EUR for the batch"),
        (15.2348, 19.5166, 2.0, "the base costs 19.52 per kg: 4.29 saved."),
        (10.0049, 10.0, 2.0, "the base costs 10.00 per kg."),
        (10.0051, 10.0, 100.0, "10.01 EUR per kg, 1001.00 EUR for the batch"),
    ],
)
def test_money_follows_from_the_figures_next_to_it(answer, cost, base, batch, told):
    changed = replace(answer, cost_per_kg=cost, base_cost_per_kg=base, batch_kg=batch)
    assert told in presenting.report(changed, 120)


def test_the_table_and_the_paragraph_tell_one_total(answer):
    half = replace(answer.formula[0], cost_per_kg_product=17.495)
    text = presenting.report(
        replace(answer, formula=(half,), cost_per_kg=17.494999999999997), 120
    )
    assert text.count("17.50") == 3  # the line, the total, the paragraph


def test_rules_are_counted_alike_everywhere(answer, checked):
    both = replace(checked, lines=(answer.rules[0], *checked.lines))
    text = presenting.check_report(both, 80)
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
    assert told in " ".join(checked_lines(rules, {}, 120))


def test_a_rule_never_eased_tells_what_each_point_of_it_costs(answer):
    rule = replace(answer.rules[3].rule, limit=0.0, owner="safety")
    price = Price("change", -1.0, None)
    line = RuleLine(rule, 0.0, 0.0, True, ease=price)
    text = presenting.report(replace(answer, rules=(line,)), 120)
    told = "each point that it keeps out adds 1 point to the change from the base\n"
    assert told in text
    asks = RuleLine(replace(rule, side="min", limit=5.0), 5.0, 0.0, True, ease=price)
    assert "each point that it asks for adds 1 point" in presenting.report(
        replace(answer, rules=(asks,)), 120
    )


def test_evidence_is_told_in_words_and_not_where_it_is_a_definition(answer):
    def text(evidence):
        rule = replace(answer.rules[3].rule, evidence=evidence)
        line = replace(answer.rules[3], rule=rule)
        return presenting.report(replace(answer, rules=(line,)), 120)

    assert "weakest figure: recalled, not re-checked" in text("memory")
    assert "weakest figure: recalled, typical value only" in text("memory_low")
    assert "weakest figure" not in text("defined")


def test_allergen_tables_are_told_in_words(answer):
    told = (
        ("tree nut", "shea butter (not listed; delisted us 2025)"),
        ("tree nut", "argan oil (not listed; botanical nut or kernel not listed)"),
    )
    text = presenting.report(replace(answer, allergens=told), 80)
    assert "shea butter (on the US list until January 2025)" in text
    assert "argan oil (a kernel or botanical nut, on no list)" in text


def test_an_easing_is_told_in_digits_that_differ(clash):
    easing = Easing(replace(clash.rules[0], limit=12.0), 11.99998)
    text = clash_report(replace(clash, ways_out=(WayOut((easing,), None, None),)), 80)
    assert "-> 11.99998 %" in text
