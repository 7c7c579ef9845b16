"""Robustness: draws against closed forms, counterparts against every worst case."""

from importlib import import_module
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy.optimize import linprog

from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.domain.scenario import Steps
from optimiser.domain.wording import Fixed
from optimiser.errors import InputError, ProofError
from optimiser.explaining import Clash
from optimiser.presenting import as_text
from optimiser.presenting.studies.robust import robust_page
from optimiser.rules import build
from optimiser.solving import Optimum, optimise
from optimiser.studies.robust import Doubt, robust, simulate
from optimiser.studies.robust.counterpart import (
    protect,
    robust_programme,
    worst_sum,
    worst_value,
)
from optimiser.studies.robust.simulation import triangle
from tests.presenting.shown import flat
from tests.rules.workbench import (
    bound,
    catalogue,
    figure,
    pin,
    scenario,
    toml,
    window,
)

KINDS = {
    "cocoa": "hard butter",
    "kokum": "hard butter",
    "shea": "soft butter",
    "olive": "liquid oil",
}
KEYS = list(KINDS)
PRICES = [20.0, 26.0, 12.0, 6.0]
FATS = {"cocoa": (60, 80, 90), "kokum": (84, 88, 90), "shea": (20, 30, 50),
        "olive": (0, 0, 0)}  # fmt: skip


def known(**more):
    fats = {k: {30.0: figure(m, lo, hi)} for k, (lo, m, hi) in FATS.items()}
    prices = dict(zip(KEYS, PRICES, strict=True))
    return catalogue(KINDS, prices=prices, figures={"solid fat": fats}, **more)


def asked(least=40.0, **more):
    windows = (window("solid fat", least, None, at=30.0, over="lipids"),)
    bands = (
        bound("liquid oil", 20, 60),
        bound("soft butter", 5, 40),
        bound("hard butter", None, 90),
    )
    return scenario(**({"windows": windows, "bands": bands} | more))


FORMULA = {"cocoa": 30.0, "kokum": 15.0, "shea": 15.0, "olive": 40.0}
DRAWS = 40_000


def drawn(doubt, of=None, **more):
    of = of or asked()
    programme = build(of, known())
    return simulate(programme, FORMULA, of, known(), doubt, draws=DRAWS, **more)


def near(value, standard_error):
    """Five standard errors: a seeded draw is that far off once in two million."""
    return pytest.approx(value, abs=5 * standard_error)


def test_the_cost_s_mean_and_variance_are_the_closed_forms():
    cost = drawn(Doubt(30.0, 0.0, figures=False)).cost
    parts = np.array(list(FORMULA.values())) * PRICES / 100.0
    sd = np.sqrt(np.sum((parts * 0.3) ** 2) / 3.0)  # an even move: (half width)^2 / 3
    assert cost[0] == near(parts.sum(), sd / np.sqrt(DRAWS))
    # The standard error of a variance of near-normal sums is sd^2 sqrt(2 / n).
    assert cost[1] ** 2 == near(sd**2, sd**2 * np.sqrt(2.0 / DRAWS))


def test_a_weighing_s_variance_is_the_closed_form():
    # Shares are kg over the sum: to first order the error of an oil's share of 40 %
    # is 60 % of its own error less 40 % of the others', each even over 2 g of 1 kg.
    of = asked(batch_kg=1.0)
    result = drawn(Doubt(0.0, 0.002, figures=False), of)
    row = next(each for each in result.rules if each.rule.id == "band/liquid oil/min")
    step = 0.2  # percent
    sd = step * np.sqrt((0.6**2 + 3 * 0.4**2) / 3.0)
    # 5 % and 95 % of a sum of four even errors, from its normal shape: within a tenth.
    assert (row.high - row.low) / 2 / 1.645 == pytest.approx(sd, rel=0.1)
    assert row.middle == pytest.approx(40.0, abs=0.01)


def test_a_triangle_has_its_mean_and_variance():
    chance = (np.arange(200_000) + 0.5) / 200_000
    for low, middle, high in FATS.values():
        found = triangle(float(low), float(middle), float(high), chance)
        mean = (low + middle + high) / 3.0
        variance = (
            low**2 + middle**2 + high**2 - low * middle - low * high - middle * high
        ) / 18.0
        assert found.mean() == pytest.approx(mean, abs=1e-3)
        assert found.var() == pytest.approx(variance, abs=1e-2)


def test_a_window_s_variance_is_the_sum_of_its_triangles():
    result = drawn(Doubt(0.0, 0.0))
    row = next(each for each in result.rules if each.rule.kind == "window")
    mean = variance = 0.0
    for key, (low, middle, high) in FATS.items():
        share = FORMULA[key] / 100.0
        mean += share * (low + middle + high) / 3.0
        variance += share**2 * (
            low**2 + middle**2 + high**2 - low * middle - low * high - middle * high
        ) / 18.0  # fmt: skip
    assert row.middle == pytest.approx(mean, abs=0.4)
    assert (row.high - row.low) / 2 / 1.645 == pytest.approx(variance**0.5, rel=0.05)


def test_the_same_seed_draws_the_same():
    first, again = (drawn(Doubt(10.0, 0.001), seed=3) for _ in range(2))
    assert (first.kept, first.cost) == (again.kept, again.cost)
    assert drawn(Doubt(10.0, 0.001), seed=4).cost != first.cost


def test_without_doubt_everything_is_kept():
    result = drawn(Doubt(0.0, 0.0, figures=False))
    assert result.kept == 1.0
    assert result.cost[1] == pytest.approx(0.0, abs=1e-12)


def test_what_was_drawn_is_kept_when_it_is_stopped():
    def stop(done, _):
        if done >= 6000:
            raise KeyboardInterrupt

    of = asked()
    result = simulate(
        build(of, known()), FORMULA, of, known(), Doubt(), draws=DRAWS, progress=stop
    )
    assert result.stopped
    assert result.draws == 6000


budgets = st.sampled_from([0.0, 0.4, 1.0, 1.7, 2.0, 3.0])
moves = st.lists(st.floats(0.0, 20.0), min_size=4, max_size=4)


def every_worst_case(least, spreads, budget):
    """Least cost with a row for every set of figures that may fall together."""
    usual = np.array([FATS[key][1] for key in KEYS], dtype=float)
    whole, part = int(budget), budget - int(budget)
    rows = []
    for full in combinations(range(4), min(whole, 4)):
        others = [i for i in range(4) if i not in full] or [None]
        for more in others:
            row = usual - least
            for i in full:
                row[i] -= spreads[i]
            if more is not None:
                row[more] -= part * spreads[more]
            rows.append(-row)
    sides = [0.0] * len(rows) + [-20.0, 60.0, -5.0, 40.0, 90.0]
    rows += [[0, 0, 0, -1], [0, 0, 0, 1], [0, 0, -1, 0], [0, 0, 1, 0], [1, 1, 0, 0]]
    return linprog(
        np.array(PRICES) / 100.0,
        A_ub=rows,
        b_ub=sides,
        A_eq=[[1.0] * 4],
        b_eq=[100.0],
        bounds=[(0, 100)] * 4,
    )


@settings(deadline=None, max_examples=40)
@given(moves, budgets)
def test_the_counterpart_is_every_worst_case_written_out(spreads, budget):
    programme = build(asked(), known())
    number = next(i for i, r in enumerate(programme.rules) if r.kind == "window")
    off = {
        programme.ingredients.index(k): x for k, x in zip(KEYS, spreads, strict=True)
    }
    found = optimise(protect(programme, number, off, budget))
    plain = every_worst_case(40.0, spreads, budget)
    if plain.status == 2:
        assert not hasattr(found, "best")
    else:
        assert found.best[0] == pytest.approx(plain.fun, abs=1e-6)


@given(st.lists(st.floats(0, 50), min_size=1, max_size=6), st.integers(0, 6))
def test_the_worst_sum_is_that_of_the_worst_set(values, budget):
    worst = max(sum(each) for each in combinations(values, min(budget, len(values))))
    assert worst_sum(values, budget) == pytest.approx(worst)


# Bertsimas and Sim, The Price of Robustness, Operations Research 52:35, 2004, section
# 6.2, from memory: 150 assets with returns 1.15 + 0.05 i / 150 and deviations
# (0.05 / 450) sqrt(2 i n (n + 1)); the nominal best is 1.20, all in the last asset,
# and with all at their worst all goes to the asset with the best worst case.
def portfolio(budget, n=150):
    i = np.arange(1, n + 1)
    mean, off = 1.15 + 0.05 * i / n, 0.05 / 450 * np.sqrt(2 * i * n * (n + 1))
    worth = n
    columns = (
        *(Column("amount", f"a{k}", 0.0, 1.0) for k in i),
        Column("worth", "worth"),
    )
    origin = toml("portfolio")
    total = Rule(
        "total", Fixed("total"), "total", "exact", 1.0, "",
        Row.of((k, 1.0) for k in range(n)), "arithmetic", origin, per_constant=1.0,
    )  # fmt: skip
    pays = Rule(
        "pays", Fixed("pays"), "window", "min", 0.0, "",
        Row.of([*enumerate(mean), (worth, -1.0)]), "wish", origin, per_constant=1.0,
    )  # fmt: skip
    goal = Goal("worth", "", Row.of([(worth, -1.0)]))
    keys = tuple(f"a{k}" for k in i)
    programme = Programme(keys, columns, (total, pays), (), (goal,))
    found = optimise(protect(programme, 1, dict(enumerate(off)), budget))
    return -found.best[0], found.amounts[:n], mean, off


def test_the_published_portfolio_pays_as_published_without_doubt():
    value, amounts, _, _ = portfolio(0.0)
    assert value == pytest.approx(1.20)
    assert amounts[-1] == pytest.approx(1.0)


def test_the_published_portfolio_at_its_worst_is_the_best_single_worst_case():
    value, _, mean, off = portfolio(150.0)
    assert value == pytest.approx((mean - off).max())


def test_the_published_portfolio_pays_less_the_more_it_bears():
    values = [portfolio(float(budget))[0] for budget in (0, 1, 5, 17, 50, 150)]
    assert values == sorted(values, reverse=True)
    value, amounts, mean, off = portfolio(17.0)
    worst = np.sort(off * amounts)[-17:].sum()
    assert value == pytest.approx(float(mean @ amounts) - worst)


def test_bearing_more_costs_more_and_stays_in_spec_more_often():
    result = robust(asked(), known(), Doubt(0.0, 0.0), (0.5, 1.0, 2.0), draws=4000)
    costs = [result.plain.cost_per_kg] + [b.formula.cost_per_kg for b in result.budgets]
    kept = [result.simulated.kept] + [b.simulated.kept for b in result.budgets]
    assert costs == sorted(costs)
    assert kept == sorted(kept)
    assert result.budgets[0].premium == pytest.approx(costs[1] - costs[0])


def test_a_budget_that_nothing_bears_is_said_with_the_most_that_is():
    result = robust(asked(least=66.0), known(), Doubt(0.0), (3.0,), draws=1000)
    assert result.budgets[0].formula is None
    assert 0 < result.most < 3.0


def test_prices_at_their_worst_spread_the_formula():
    plain = build(asked(), known())
    held = robust_programme(plain, asked(), Doubt(50.0, figures=False), 1.0)
    found = optimise(held)
    prices = dict(zip(KEYS, PRICES, strict=True))
    each = np.array([prices[key] for key in plain.ingredients])
    parts = each / 100.0 * found.amounts[:4]
    assert found.best[0] == pytest.approx(parts.sum() + 0.5 * parts.max(), abs=1e-6)


def test_law_is_held_back_by_what_the_scale_may_miss():
    of = asked(batch_kg=0.1)
    plain = build(of, known())
    strict = replace(plain.rules[1], owner="law")
    plain = replace(plain, rules=(plain.rules[0], strict, *plain.rules[2:]))
    held = robust_programme(plain, of, Doubt(0.0, 0.001, figures=False), 1.0)
    assert held.rules[1].limit == pytest.approx(strict.limit + 1.0)


# 0.2 g in a kilogram are 0.02 %. A share that a maker set is written in tenths, and
# what rounds to it keeps it; a law knows no rounding, and half of all draws are past.
def test_a_maker_s_share_is_kept_to_half_a_tenth_and_a_law_s_to_the_last_digit():
    bands = (*asked().bands[1:], bound("liquid oil", None, 40))
    of = asked(bands=bands, windows=())
    plain = build(of, known())
    (number,) = (n for n, r in enumerate(plain.rules) if r.id == "band/liquid oil/max")
    kept = []
    for owner in ("wish", "law", "safety"):
        rules = list(plain.rules)
        rules[number] = replace(rules[number], owner=owner)
        programme = replace(plain, rules=tuple(rules))
        doubt = Doubt(0.0, 0.0002, figures=False)
        found = simulate(programme, FORMULA, of, known(), doubt, draws=2000)
        kept += [x.share for x in found.rules if x.rule.id == "band/liquid oil/max"]
    assert kept == [1.0, pytest.approx(0.5, abs=0.06), pytest.approx(0.5, abs=0.06)]


def test_a_formula_that_does_not_bear_its_budget_is_no_answer(monkeypatch):
    study = import_module("optimiser.studies.robust.study")
    monkeypatch.setattr(study, "robust_programme", lambda programme, *_: programme)
    with pytest.raises(ProofError, match="does not bear the worst of window"):
        robust(asked(), known(), Doubt(0.0), (1.0,), draws=100)


def test_a_share_of_a_part_bears_any_one_weighing_at_its_worst():
    bands = (bound("hard butter", 60, of="butters"), bound("soft butter", 10))
    of = asked(bands=bands, batch_kg=0.1, windows=())
    plain = build(of, known())
    number = next(n for n, rule in enumerate(plain.rules) if rule.per.columns.size)
    doubt = Doubt(0.0, 0.001, figures=False)
    amounts = optimise(robust_programme(plain, of, doubt, 1.0)).amounts
    worst = []
    for key in range(len(plain.ingredients)):
        for off in (-1.0, 1.0):
            weighed = amounts.copy()
            weighed[key] += off
            worst.append(plain.rules[number].value(weighed))
    assert 60.0 - 0.1 <= min(worst) <= 60.0 + 0.1


def test_a_share_of_what_no_ingredient_is_bears_everything():
    of = asked(batch_kg=0.1)
    plain = build(of, known())
    empty = replace(plain.rules[1], amounts=Row.of(()), per_constant=0.0)
    plain = replace(plain, rules=(plain.rules[0], empty, *plain.rules[2:]))
    found = optimise(robust_programme(plain, of, Doubt(0.0, 0.001), 1.0))
    assert isinstance(found, Optimum)


def test_a_clash_is_returned_as_one():
    of = asked(bands=(bound("liquid oil", 60), bound("soft butter", 60)))
    assert isinstance(robust(of, known()), Clash)


def test_doubts_that_make_no_sense_are_told_all_at_once():
    with pytest.raises(InputError) as told:
        robust(asked(), known(), Doubt(200.0, -1.0))
    assert [each.field for each in told.value.problems] == ["--prices", "--weighing"]
    with pytest.raises(InputError) as told:
        robust(asked(), known(), Doubt(), (0.0,), draws=0)
    assert [each.field for each in told.value.problems] == ["--budget", "--draws"]


def test_pins_are_weighed_and_not_judged():
    of = asked(pins=(pin("olive", 40.0),))
    result = drawn(Doubt(0.0, 0.01, figures=False), of)
    assert all(each.rule.kind != "pin" for each in result.rules)


def test_a_logarithmic_property_is_drawn_too():
    thick = {key: figure(m, m / 2, m * 2, unit="mPa s") for key, m in
             zip(KEYS, (50.0, 60.0, 40.0, 30.0), strict=True)}  # fmt: skip
    of = asked(windows=(window("viscosity", 20.0, 60.0, over="lipids"),))
    lots = catalogue(
        KINDS, prices=dict(zip(KEYS, PRICES, strict=True)), figures={"viscosity": thick}
    )
    result = robust(of, lots, Doubt(0.0), (1.0,), draws=2000)
    row = next(each for each in result.simulated.rules if each.rule.kind == "window")
    assert 15.0 < row.low < row.high < 80.0
    assert result.budgets[0].formula is not None


def test_a_weighing_error_of_more_than_a_tenth_is_refused():
    batch = asked().batch_kg
    with pytest.raises(InputError, match="more than a tenth of the batch"):
        robust(asked(), known(), Doubt(weighing_kg=batch * 0.11))


def test_a_seed_below_zero_is_refused():
    with pytest.raises(InputError, match="'-1' is no start of draws"):
        robust(asked(), known(), seed=-1)


@pytest.mark.filterwarnings("error")
def test_a_draw_of_nothing_keeps_no_rule():
    of = asked()
    programme = build(of, known())
    alone = {"olive": 100.0}
    doubt = Doubt(weighing_kg=3 * of.batch_kg)  # two draws of six weigh nothing
    found = simulate(programme, alone, of, known(), doubt, draws=6000)
    shares = {each.rule.id: each.share for each in found.rules}
    assert shares["band/liquid oil/min"] == pytest.approx(2 / 3, abs=0.02)
    assert shares["band/hard butter/max"] == pytest.approx(2 / 3, abs=0.02)
    assert found.kept == 0.0


def test_a_rule_about_what_is_not_in_the_formula_is_kept():
    windows = (window("solid fat", 10.0, None, at=30.0, over="hard butter"),)
    of = asked(windows=windows)
    programme = build(of, known())
    found = simulate(programme, {"olive": 60.0, "shea": 40.0}, of, known(), Doubt())
    assert found.kept == 1.0


# Half of 90 and half of 10 is 50; the first may be 9 off and the second 3, half of
# each: with a budget of one the first alone, with one and a half of the second a half.
@pytest.mark.parametrize(
    ("side", "budget", "worst"),
    [("min", 0.0, 50.0), ("min", 1.0, 45.5), ("min", 1.5, 44.75), ("max", 1.5, 55.25)],
)
def test_the_worst_of_a_least_is_below_its_value_and_of_a_most_above(
    side, budget, worst
):
    row = Row.of([(0, 90.0), (1, 10.0)]), Row.of([(0, 1.0), (1, 1.0)])
    each = Rule(
        id="window",
        wording=Fixed("window"),
        kind="window",
        side=side,
        limit=50.0,
        unit="%",
        amounts=row[0],
        per=row[1],
        owner="wish",
        origin=toml("windows[1]"),
    )
    found = worst_value(each, {0: 9.0, 1: 3.0}, {0: 50.0, 1: 50.0}, budget)
    assert found == pytest.approx(worst)


# In steps of 1 % the window's own figure is met by none of what is left; the plain
# formula is then the one without steps. A cautious question is judged as usual.
def test_which_formula_is_judged_is_told():
    plain = robust(asked(), known(), draws=50, budgets=(1.0,))
    assert (plain.step, plain.in_steps, plain.cautious) == (None, None, False)
    assert plain.budgets[0].in_steps is None
    stepped = asked(steps=Steps(5.0, {}, toml("amounts")))
    found = robust(stepped, known(), draws=50, budgets=(1.0,))
    assert (found.step, found.in_steps) == (5.0, True)
    assert found.budgets[0].in_steps
    for made in (found.plain, found.budgets[0].formula):
        assert all(x == pytest.approx(5 * round(x / 5)) for x in made.amounts.values())
    told = flat(as_text(robust_page(found), 500))
    assert "Judged is the formula in steps of 5 %, as formulate shows it." in told
    odd = (bound("liquid oil", 31, 34), bound("soft butter", 11, 14))
    narrow = replace(stepped, bands=(*odd, bound("hard butter", None, 90)))
    found = robust(narrow, known(), draws=50, budgets=(0.5,))
    assert (found.in_steps, found.budgets[0].in_steps) == (False, False)
    (row,) = found.budgets
    surer = replace(row, simulated=replace(row.simulated, kept=1.0))
    told = flat(as_text(robust_page(replace(found, budgets=(surer,))), 500))
    assert "No formula in steps of 5 % was found, so the one without is judged." in told
    assert "Prepared for 0.5: not in steps, for none was found." in told
    found = robust(asked(cautious=True), known(), draws=50, budgets=())
    assert "not the cautious one" in flat(as_text(robust_page(found), 500))
