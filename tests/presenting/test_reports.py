"""Whole reports as text: snapshots, widths, words, and what adds up."""

import re
from datetime import date
from functools import partial

import pytest
from msgspec.structs import replace

from optimiser.domain.law import Duty, Scope, SubstanceLimit
from optimiser.domain.material import Origin
from optimiser.explaining.answer import Easing, Price, Proof, RuleLine, Unused, WayOut
from optimiser.explaining.basis import Coming, LawLine, basis
from optimiser.presenting.answer import answer_page, law
from optimiser.presenting.check import check_page
from optimiser.presenting.facts import proof_told
from optimiser.presenting.page import Item
from optimiser.presenting.rules import dearest, near
from optimiser.presenting.terminal import as_text
from tests.presenting import shown
from tests.rules import workbench as wb

COST = partial(Price, "cost")
WIDTHS = (60, 64, 80, 120)
NEVER = re.compile(
    r"\b(safe|compliant|dual|shadow|rhs|reduced cost|iis|slack|score|grade|lp)\b", re.I
)


def test_the_report_of_an_answer_is_as_it_was_read_and_kept(answer, sources, snapshot):
    snapshot(shown.report(answer, 80, sources), "answer.txt")


def test_a_short_page_says_whose_firmness_the_figures_are(answer, checked):
    own = "firmness of beeswax is as calibrated on the workshop's own trials"
    for page, found in ((answer_page, answer), (check_page, checked)):
        assert own not in shown.flat(as_text(page(found), 80))
        basis = replace(found.basis, calibrated=("beeswax",))
        assert own in shown.flat(as_text(page(replace(found, basis=basis)), 80))


def test_the_report_of_a_clash_is_as_it_was_read_and_kept(clash, snapshot):
    snapshot(shown.report(clash, 80), "clash.txt")


def test_the_report_of_a_check_is_as_it_was_read_and_kept(checked, sources, snapshot):
    snapshot(shown.report(checked, 80, sources), "checked.txt")


@pytest.mark.parametrize("columns", WIDTHS)
def test_no_line_is_wider_than_it_may_be(answer, clash, checked, columns):
    for text in (
        shown.report(answer, columns),
        shown.report(clash, columns),
        shown.report(checked, columns),
    ):
        assert max(map(len, text.splitlines())) <= columns


@pytest.mark.parametrize(("columns", "widest"), [("80", 80), ("200", 120)])
def test_a_report_fits_the_terminal(answer, monkeypatch, columns, widest):
    monkeypatch.setenv("COLUMNS", columns)
    text = shown.report(answer)
    assert max(map(len, text.splitlines())) <= widest


def test_no_report_uses_a_word_that_makers_do_not(answer, clash, checked):
    for text in (
        shown.report(answer, 80),
        shown.report(clash, 80),
        shown.report(checked, 80),
    ):
        assert not NEVER.findall(text)


def test_text_from_files_cannot_steer_the_terminal(answer):
    bad = replace(answer, title="bar\x1b[2J\u202e title\nline")
    text = shown.report(bad, 80)
    assert text.startswith("bar[2J title line\n")
    assert "\x1b" not in text


def test_printed_percentages_and_grams_add_up(answer):
    text = shown.report(answer, 80)
    table = text.split("FORMULA\n")[1].split("By category")[0].splitlines()
    rows = [re.split(r" {2,}", each.strip()) for each in table[1:] if each.strip()]
    *rows, _, total = rows
    assert sum(round(float(row[1]) * 100) for row in rows) == 10000
    assert sum(round(float(row[2]) * 100) for row in rows) == 200000
    assert total[1:5] == ["100.00", "2000.0", "14.56", "100.00"]


def test_prices_with_choices_say_so_and_promise_less(answer):
    text = shown.report(replace(answer, choices_kept=True), 80)
    assert "Prices hold with the chosen ingredients kept." in text
    assert "would change nothing" not in text


def only(answer, **price):
    band = next(each for each in answer.rules if "hard butter" in each.rule.sentence)
    line = RuleLine(band.rule, 40.0, 0.0, True, **price)
    return " ".join(shown.report(replace(answer, rules=(line,)), 120).split())


@pytest.mark.parametrize(
    ("price", "told"),
    [
        (COST(-0.21, 36.5), "by 1 point saves 0.21 EUR/kg, down to 36.5 %"),
        (COST(-0.21, 39.7), "by 0.1 points saves 0.02 EUR/kg, down to 39.7 %"),
        (COST(-0.21, None), "by 1 point saves 0.21 EUR/kg, however far"),
        (COST(-0.21, -1e-9), "by 1 point saves 0.21 EUR/kg, down to 0 %"),
        (COST(-0.21, 40.0), "saves 0.21 EUR/kg for each point, but only to begin with"),
        (COST(-0.21, 39.9999), "0.21 EUR/kg for each point, but only to begin with"),
        (COST(-0.05, 39.7), "easing saves 0.05 EUR/kg for each point, down to 39.7"),
        (COST(-0.001, 25.0), "by 10 points saves 0.01 EUR/kg, down to 25 %"),
        (COST(-0.001, 36.5), "easing saves 0.01 EUR/kg for each 10 points, down to"),
        (COST(-3e-6, 36.5), "saves less than 0.01 EUR/kg for each 10 points, down"),
        (Price("change", -1e-5, 36.5), "takes less than 0.01 % off what is different"),
        (Price("change", -0.5, 36.5), "0.5 % off what is different from the base"),
        (Price("kind change", -0.5, 36.5), "0.5 % off what is different by kind"),
        (Price("category change", -0.5, 36.5), "off what is different by category"),
        (
            Price("count", -1.0, 36.5),
            "by 1 point takes 1 off the number of ingredients",
        ),
        (Price("bought", -2.0, 36.5), "takes 2 % off what must be bought"),
    ],
)
def test_the_price_of_easing_is_a_sentence_for_a_step_it_holds_over(
    answer, price, told
):
    assert told in only(answer, ease=price)


def test_the_price_of_tightening_tells_what_it_costs(answer):
    assert "tightening by 1 point adds 1 % to what is different from the base" in only(
        answer, tighten=Price("change", 1.0, 44.0)
    )


def test_a_rule_that_costs_nothing_is_named_apart(answer):
    nothing = Price("cost", 0.0, None)
    assert "changes nothing: hard butter at least 40 %" in only(
        answer, ease=nothing, tighten=nothing
    )
    assert "easing it a little changes nothing; tightening by 1 point costs" in only(
        answer, ease=nothing, tighten=Price("cost", 1.0, 44.0)
    )


def test_two_rules_of_one_limit_are_one_line_of_what_costs_most(answer):
    price = Price("cost", -0.21, 36.5)
    band = next(each for each in answer.rules if "hard butter" in each.rule.sentence)
    one = RuleLine(band.rule, 40.0, 0.0, True, ease=price)
    two = replace(one, rule=replace(band.rule, id="band/hard butter/min (2)"))
    found = list(dearest((one, two), ("cost",), "EUR", 3))
    assert len(found) == 1


def test_a_pin_is_raised_or_lowered(answer):
    band = answer.rules[1].rule
    pin = RuleLine(
        replace(band, side="exact", unit="to 1", limit=0.5),
        0.5,
        0.0,
        True,
        ease=Price("cost", -1.0, 0.8),
        tighten=Price("cost", 1.0, 0.2),
        lowering=Price("cost", 1.0, 0.2),
        raising=Price("cost", -1.0, 0.8),
    )
    text = " ".join(shown.report(replace(answer, rules=(pin,)), 120).split())
    assert "raising by 0.1 saves 0.10 EUR/kg, up to 0.8" in text
    assert "lowering by 0.1 costs 0.10 EUR/kg, down to 0.2" in text


def test_rules_that_cost_most_come_first(answer):
    text = shown.report(answer, 80)
    held = text.split("WHAT HOLDS")[1].split("NEARLY")[0]
    names = ("lavender", "carnauba", "hard butter")
    places = [held.index(name) for name in names]
    assert places == sorted(places)


def test_rules_that_move_the_first_aim_come_before_dearer_ones_of_a_later(answer):
    change = replace(answer.rules[2], ease=Price("change", -0.01, 3.0), tighten=None)
    both = replace(
        answer,
        aims=(("change", 36.25, "points"), ("cost", 14.561, "EUR/kg")),
        rules=(answer.rules[1], change),
    )
    text = shown.report(both, 80)
    assert text.index("carnauba wax at most") < text.index("hard butter at least")


def test_of_what_nearly_holds_the_least_room_comes_first(answer):
    loose = replace(answer.rules[5], value=59.0, slack=1.0)  # of 60; firm 0.9 of 30
    told = shown.told(near((answer.rules[4], loose)))
    assert told.index("liquid oil at most") < told.index("solid fat at 30")


def test_a_rule_that_does_not_apply_is_not_counted_as_roomy(answer):
    idle = RuleLine(answer.rules[1].rule, None, None, binding=False)
    text = shown.report(replace(answer, rules=(idle,)), 80)
    assert "nothing here" not in text
    assert "\n  1 rule is about ingredients that are not used.\n" in text


def test_an_aim_this_report_has_no_words_for_is_told_by_its_name(answer):
    assert "takes 1 off odd aim" in only(answer, ease=Price("odd aim", -1.0, 30.0))


def test_a_formula_with_nothing_of_its_base_says_so(answer):
    new = tuple(e for e in answer.formula if not (e.percent and e.base_percent))
    text = shown.report(replace(answer, formula=new), 120)
    assert "nothing of the base is kept" in " ".join(text.split())


def test_nothing_binding_is_said(answer):
    text = shown.report(replace(answer, rules=answer.rules[:1]), 80)
    assert "No rule does: every one has room to spare." in text


def test_unused_ingredients_come_nearest_first_and_at_most_eight(answer):
    many = tuple(
        Unused(f"oil_{n}", f"oil {n}", 10.0, 10.0 - n * 0.5) for n in range(12, 0, -1)
    )
    more = (
        Unused("even", "even oil", 10.0, 10.0),
        Unused("unpriced", "unpriced oil", None, 4.0),
    )
    text = shown.report(replace(answer, unused=many + more), 80)
    part = text.split("NOT USED\n")[1].split("\n\n")[0].splitlines()
    assert part[0] == "  even oil: at 10.00 EUR/kg it could come in at no extra cost"
    assert part[1] == "  oil 1: would come in below 9.50 EUR/kg (now 10.00)"
    assert part[8] == "  and 6 more, further from it"
    alone = shown.report(replace(answer, unused=more[1:]), 80)
    assert "unpriced oil: would come in below 4.00 EUR/kg (no price known)" in " ".join(
        alone.split()
    )


def test_a_cost_that_is_not_known_is_not_shown_as_zero(answer):
    formula = tuple(
        replace(each, price_per_kg=None, cost_per_kg_product=None)
        if each.name == "carnauba wax"
        else each
        for each in answer.formula
    )
    part = replace(answer, cost_per_kg=None, formula=formula)
    text = shown.report(part, 80)
    assert "What the materials cost is not known: no price for carnauba wax." in text
    nothing = tuple(replace(each, cost_per_kg_product=None) for each in formula)
    assert "EUR in 1 kg" not in shown.report(replace(part, formula=nothing), 80)
    assert shown.report(part, 120)


def test_a_formula_without_a_base_has_no_base_column(answer):
    formula = tuple(replace(e, base_percent=None) for e in answer.formula if e.percent)
    bare = replace(answer, formula=formula, change=None, base_cost_per_kg=None)
    text = shown.report(bare, 80)
    assert "base" not in text.split("WHAT HOLDS")[0]


def test_a_dearer_answer_says_so(answer):
    assert "14.56 EUR per kg, 1.56 more than your base (13.00)." in shown.report(
        replace(answer, base_cost_per_kg=13.0), 120
    )
    same = shown.report(replace(answer, base_cost_per_kg=14.561), 120)
    assert "14.56 EUR per kg, as much as your base." in same


def test_a_property_with_parts_missing_says_so(answer):
    some = replace(answer.properties[0], missing=("beeswax",))
    text = shown.report(replace(answer, properties=(some,)), 80)
    assert "solid fat at 30 °C, lipids: without beeswax." in text
    assert "PROPERTIES" not in shown.report(replace(answer, properties=()), 80)


@pytest.mark.parametrize(
    ("proof", "aim", "told"),
    [
        (
            Proof(0.0, 0.0),
            "cost",
            "again from the catalogues, and no formula that keeps them is cheaper by",
        ),
        (
            Proof(2e-8, 0.0),
            "change",
            "missed by more than 0.00000002), and no formula that keeps them is",
        ),
        (Proof(0.0, 3.2e-7), "cost", "by more than 0.00004 %."),
        (Proof(0.0, 1e-6, "search"), None, "cheaper by more than 0.0001 %."),
        (Proof(0.0, 0.0, "search"), "cost", "and among all choices of ingredients no"),
        (Proof(0.0, 0.0), "change", "is closer to the base by more than"),
        (Proof(0.0, 0.0), "count", "has fewer ingredients by more than"),
        (Proof(0.0, 0.0), "odd aim", "them is better by more than"),
    ],
)
def test_the_proof_is_told_in_plain_words(proof, aim, told):
    assert told in proof_told(proof, aim)


def test_editions_of_law_are_told_by_key_where_the_source_is_not_at_hand(answer):
    assert "edition: eu_annex_iii" in shown.report(answer, 80)


def test_a_clash_says_which_rules_may_be_eased(clash):
    first, second = clash.rules
    both = shown.report(replace(clash, rules=(first, first)), 80)
    assert "Take any one of these away and the rest of them can be met." in both
    law = shown.report(replace(clash, rules=(second,)), 80)
    assert "None of these may be eased: other ingredients are needed." in law
    none = shown.report(replace(clash, rules=()), 80)
    assert "RULES THAT" not in none


def test_a_check_of_what_no_rule_speaks_of_says_so(checked):
    bare = replace(checked, lines=(), missing=(), markets=())
    first, *_ = shown.report(bare, 80).splitlines()
    assert first == (
        "Winter massage bar, nut-free: breaks no rule, for none speaks of it."
    )


def test_a_clash_with_others_behind_it_says_that_a_way_out_ends_them_all(clash):
    rule = clash.rules[0]
    behind = "Other clashes are behind this one: a way out ends them all."
    one, beside = Easing(rule, 30.0), Easing(replace(rule, id="other"), 9.0)
    alone = replace(clash, ways_out=(WayOut((one,), 5.0, None),))
    assert behind not in shown.flat(shown.report(alone, 80))
    two = replace(clash, ways_out=(WayOut((one, beside), 5.0, None),))
    assert behind in shown.flat(shown.report(two, 80))
    both = tuple(Easing(each, 9.0) for each in clash.rules)
    own = replace(clash, ways_out=(WayOut(both, 5.0, None),))
    assert behind in shown.flat(shown.report(own, 80))
    other = replace(clash, ways_out=(WayOut((beside,), 5.0, None),))
    assert behind in shown.flat(shown.report(other, 80))
    assert "take that one away and the rest" in shown.flat(shown.report(two, 80))


def test_that_percentages_add_up_is_written_nowhere(clash):
    total = replace(clash.rules[0], kind="total", owner="arithmetic")
    assert "from bar.toml" in shown.report(replace(clash, rules=clash.rules[:1]), 80)
    assert "from bar.toml" not in shown.report(replace(clash, rules=(total,)), 80)


def test_a_check_that_keeps_every_rule_says_so_first(checked):
    kept = replace(checked, lines=checked.lines[1:], missing=(), markets=())
    first, second = shown.report(kept, 80).splitlines()[:2]
    assert first == "Winter massage bar, nut-free: keeps every rule (3)."
    assert "no market named" in second
    unknown = replace(kept, missing=("x",))
    assert (
        "keeps every rule that could be judged (3 of 3); 1 question could not be"
        in (shown.report(unknown, 120))
    )


@pytest.mark.parametrize(
    ("has", "said", "here"),
    [
        (0.6, "1 more begins within a year and is kept", False),
        (1.2, "here up to 1.2 %, which is OVER it (--full)", True),
    ],
)
def test_a_short_page_tells_of_a_coming_limit_that_is_passed_and_counts_one_that_is_not(
    answer, has, said, here
):
    day = Scope(begins=date(2027, 1, 1), supply=date(2028, 7, 1), read="retrieved")
    limit = SubstanceLimit(
        "EU", "a scent", "restricted", "any", 1.0, None, {"x": 1.0}, "Reg 9", "1",
        "s", Origin(""), day,
    )  # fmt: skip
    line = LawLine("EU", 3, True, ("Reg 9",), coming=(Coming(limit, has),))
    told = replace(answer, basis=replace(answer.basis, law=(line,)))
    short = shown.flat(shown.report(told, 120, full=False))
    assert ("EU from 2027" in short) is here
    assert said in short
    assert "older stock may be supplied until 2028-07-01). Reg 9" in shown.flat(
        shown.report(told, 120)
    )


@pytest.mark.parametrize(
    ("kind", "substance", "at_once"),
    [
        ("label", "linalool", True),
        ("pending", "linalool", True),
        ("notify", "linalool", False),
        ("label", None, False),  # of every product: the full page tells it
    ],
)
def test_what_a_substance_brings_with_it_is_told_at_once(kind, substance, at_once):
    text = "say so", "Act", "", "act", wb.LAW
    duty = Duty("EU", "roses", kind, "any", substance, 0.0, *text)
    known = wb.catalogue(
        {"oil": "liquid oil", "rose": "scent"},
        contents={"linalool": {"rose": wb.figure(10.0)}},
    )
    asked = wb.scenario(markets=("EU",))
    found = basis({"oil": 98.0, "rose": 2.0}, asked, replace(known, duties=(duty,)))
    told = [each.text for each in law(found) if isinstance(each, Item)]
    assert any("roses" in text for text in told) is at_once
