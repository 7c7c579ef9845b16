"""Every study asks the question that formulate asks: each total of emulsifiers too."""

import numpy as np
import pytest
from msgspec.structs import replace

from optimiser.domain.material import Lot
from optimiser.domain.scenario import Aim, Emulsify
from optimiser.explaining import Clash, formulate
from optimiser.explaining.why import why
from optimiser.studies.robust import Doubt, robust
from optimiser.studies.stock import stock
from optimiser.studies.substitute import substitute
from optimiser.studies.sweep import Group, solve, sweep
from optimiser.studies.themes import themes
from optimiser.studies.tradeoff import tradeoff
from optimiser.studies.variants import Different, variants
from tests.rules import workbench as wb

KNOWN = wb.catalogue(
    {
        "soybean": "liquid oil",
        "cocoa": "hard butter",
        "mango": "soft butter",
        "low": "emulsifier",
        "high": "emulsifier",
        "water": "water",
    },
    prices={
        "soybean": 4.0,
        "cocoa": 18.0,
        "mango": 14.0,
        "low": 8.0,
        "high": 9.0,
        "water": 0.1,
    },
    figures={
        "required HLB": {"soybean": 7.0, "cocoa": 6.0, "mango": 8.0},
        "HLB": {"low": 2.9, "high": 15.0},
    },
)
KNOWN = replace(
    KNOWN,
    stock=tuple(Lot(key, "A1", 2.0, None, wb.CSV) for key in KNOWN.ingredients),
)
BASE = {"soybean": 12.0, "cocoa": 9.0, "mango": 4.0, "low": 5.0, "water": 70.0}


def asked(*totals, **more):
    """At 8 % there cannot be 2.5 % of one; 28 % costs more than 16 %."""
    return wb.scenario(
        base=more.pop("base", BASE),
        bands=(
            wb.bound("butters", 10.0, 20.0),
            wb.bound("liquid oil", 10.0, 20.0),
            wb.bound("fats and waxes", 25.0, 25.0),
        ),
        limits=(wb.bound("low", 2.5, table="limits"),),
        emulsify=Emulsify(totals or (8.0, 28.0, 16.0), 0.1, wb.toml("emulsifiers")),
        aims=more.pop("aims", (Aim("cost"),)),
        **more,
    )


BEST = formulate(asked(16.0), KNOWN).cost_per_kg


def test_the_first_total_is_impossible_and_the_second_dearer():
    assert isinstance(formulate(asked(8.0), KNOWN), Clash)
    assert formulate(asked(28.0), KNOWN).cost_per_kg > BEST + 0.05
    assert formulate(asked(), KNOWN).cost_per_kg == pytest.approx(BEST)


def test_variants_begin_with_the_answer_of_formulate():
    found = variants(asked(), KNOWN, 3, 30.0, Different(4.0))
    costs = [each.formula.cost_per_kg for each in found.variants]
    assert costs[0] == pytest.approx(BEST)
    assert len(costs) == 3
    # The cheapest so different at any one total is no cheaper than the one found.
    for total in (28.0, 16.0):
        alone = variants(asked(total), KNOWN, 2, 60.0, Different(4.0)).variants[1]
        apart = found.variants[1].formula.cost_per_kg
        first = variants(asked(total), KNOWN, 2, 60.0, Different(4.0)).variants[0]
        if first.formula.cost_per_kg == pytest.approx(BEST):
            assert apart <= alone.formula.cost_per_kg + 1e-6


def test_a_trade_off_ends_where_formulate_answers():
    found = tradeoff(asked(), KNOWN, ("cost", "change"))
    assert found.points[-1].up == pytest.approx(BEST)
    by_change = formulate(asked(aims=(Aim("change"), Aim("cost"))), KNOWN)
    assert found.points[0].across == pytest.approx(by_change.change.by_ingredient)
    assert found.points[0].up == pytest.approx(by_change.cost_per_kg, abs=1e-5)


def test_a_trade_off_lies_nowhere_above_that_of_one_total():
    every = tradeoff(asked(), KNOWN, ("cost", "change")).points
    for total in (28.0, 16.0):
        one = tradeoff(asked(total), KNOWN, ("cost", "change")).points
        reached = [p for p in every if p.across >= one[0].across - 1e-9]
        least = np.interp(
            [p.across for p in reached], [p.across for p in one], [p.up for p in one]
        )
        # Convex and at 21 levels: between two levels the chord may lie higher.
        assert all(
            p.up <= bound + 1e-6 for p, bound in zip(reached, least, strict=True)
        )


def test_a_trade_off_against_a_property_takes_every_total_too():
    cheap = tradeoff(asked(), KNOWN, ("cost", "required HLB"))
    assert min(p.up for p in cheap.points) == pytest.approx(BEST)


def test_a_sweep_answers_as_formulate_does_under_every_price_list():
    lists = [
        ({"case": n}, {"low": 8.0 * n, "high": 9.0 / n, "cocoa": 18.0 - n})
        for n in (1, 2, 5)
    ]
    found = sweep([Group({}, asked(), KNOWN, lists), Group({}, asked(), KNOWN)])
    assert [case.status for case in found.cases] == ["answered"] * 4
    for case, (_, prices) in zip(found.cases[:3], lists, strict=True):
        other = wb.replace_prices(KNOWN, **prices)
        answer = formulate(asked(), other)
        assert case.cost_per_kg == pytest.approx(answer.cost_per_kg)
    assert found.cases[3].cost_per_kg == pytest.approx(BEST)


def test_each_case_of_a_sweep_takes_the_better_programme():
    dear, cheap = (wb.build(asked(total), KNOWN) for total in (28.0, 16.0))
    costs = np.array([[4.0, 18.0, 14.0, 8.0, 9.0, 0.1], [4, 18, 14, -8, -9, 0.1]])
    costs = costs[:, [list(KNOWN.ingredients).index(key) for key in dear.ingredients]]
    both, _ = solve((dear, cheap), costs / 100.0)
    ends = [solve((one,), costs / 100.0)[0] for one in (cheap, dear)]
    assert both[0] == pytest.approx(ends[0][0])  # emulsifiers cost something
    assert both[1] == pytest.approx(ends[1][1])  # they are paid for taking them


def test_a_robust_formula_starts_from_the_answer_of_formulate():
    found = robust(asked(), KNOWN, Doubt(5.0), (1.0,), draws=50)
    assert found.plain.cost_per_kg == pytest.approx(BEST)
    assert found.budgets[0].formula.cost_per_kg >= BEST - 1e-9


def test_a_substitute_may_take_another_total():
    found = substitute(asked(28.0, 16.0), KNOWN, ["mango"])
    alone = [substitute(asked(t), KNOWN, ["mango"]).apart for t in (28.0, 16.0)]
    assert found.apart == pytest.approx(min(alone))


def test_the_shelf_makes_the_most_at_any_total():
    found = stock(asked(), KNOWN)
    each = [stock(asked(total), KNOWN).most_kg for total in (28.0, 16.0)]
    assert found.most_kg == pytest.approx(max(each))


def test_themes_and_reasons_are_of_the_same_formula():
    told = themes((asked(), KNOWN), [("same", (asked(), KNOWN))])
    assert told.plain.formula.cost_per_kg == pytest.approx(BEST)
    assert told.alone[0].formula.cost_per_kg == pytest.approx(BEST)
    assert {each.ingredient for each in why(asked(), KNOWN).staying} == {
        line.ingredient for line in formulate(asked(), KNOWN).formula if line.percent
    }


STUDIES = {
    "variants": lambda of: variants(of, KNOWN),
    "tradeoff": lambda of: tradeoff(of, KNOWN, ("cost", "change")),
    "robust": lambda of: robust(of, KNOWN, draws=10),
    "substitute": lambda of: substitute(of, KNOWN, ["mango"]),
    "stock": lambda of: stock(of, KNOWN),
    "why": lambda of: why(of, KNOWN),
    "formulate": lambda of: formulate(of, KNOWN),
}


@pytest.mark.parametrize("study", STUDIES.values(), ids=STUDIES)
def test_where_no_total_fits_every_study_says_which_rules_clash(study):
    found = study(asked(4.0, 8.0))
    assert isinstance(found, Clash)
    assert (
        "none of the totals of emulsifiers fits (4, 8 % of the lipids)"
        in (found.causes[0])
    )
    assert any(rule.kind == "emulsifiers" for rule in found.rules)
