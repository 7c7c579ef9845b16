"""Studies keep windows on melting by the second opinion, or say that they do not."""

import pytest
from msgspec.structs import replace

from optimiser.domain.material import Lot
from optimiser.domain.scenario import Aim
from optimiser.explaining import check, formulate
from optimiser.explaining.answer import PropertyLine
from optimiser.presenting.studies.variants import variants_page
from optimiser.presenting.studies.words import told_notes
from optimiser.presenting.terminal import as_text
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.studies.made import of_amounts, told
from optimiser.studies.robust import Doubt, robust
from optimiser.studies.stock import stock
from optimiser.studies.substitute import substitute
from optimiser.studies.sweep import Group, sweep
from optimiser.studies.themes import themes
from optimiser.studies.tradeoff import tradeoff
from optimiser.studies.variants import Different, variants
from tests.rules import workbench as wb
from tests.shipped import read_scenario

KNOWN = read_catalogue(shipped_folder("catalogues"), "demo")
ONLY = ("cocoa_butter", "coconut_oil", "olive_oil", "mango_butter", "rapeseed_oil")
BASE = {"cocoa_butter": 60.0, "coconut_oil": 20.0, "olive_oil": 20.0}


def asked(least=45.0, **more):
    """Solid fat at 20 deg C, which straight sums put 10 points and more too high."""
    window = wb.window("solid fat", least, None, at=20.0, over="lipids")
    return wb.scenario(
        windows=(replace(window, origin=wb.toml("windows[1]")),),
        only=frozenset(more.pop("only", ONLY)),
        base=BASE,
        aims=more.pop("aims", (Aim("cost"),)),
        lauric_guard=wb.bound("lauric", of="butters", table="guard"),
        bands=(wb.bound("lipids", 0.0),),
        **more,
    )


def holds(formula, scenario):
    """Whether a formula's windows hold by the second opinion, as check tells it."""
    lines = check(formula.amounts, scenario, KNOWN).second_opinion.lines
    return all(line.holds for line in lines)


def by_sums_alone(scenario):
    """The formula that straight sums would give."""
    answer = formulate(replace(scenario, second_opinion=False), KNOWN)
    return {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}


def test_straight_sums_would_break_the_window():
    lines = check(by_sums_alone(asked()), asked(), KNOWN).second_opinion.lines
    assert [line.holds for line in lines] == [False]


def test_variants_hold_it_and_the_first_is_the_answer_of_formulate():
    found = variants(asked(), KNOWN, 3, 30.0, Different(10.0))
    formulas = [each.formula for each in found.variants]
    assert len(formulas) > 1
    assert all(each.held for each in formulas)
    assert all(holds(each, asked()) for each in formulas)
    assert formulas[0].cost_per_kg == pytest.approx(
        formulate(asked(), KNOWN).cost_per_kg
    )
    assert "hold by the second opinion too" in told_notes(found.told)[0]
    assert found.told.held
    words = " ".join(as_text(variants_page(found, full=True), 100).split())
    assert "by the second opinion 45 +-" in words
    assert "which is not proved to be the best there is" in words


def test_variants_of_a_scenario_that_is_only_told_go_by_straight_sums():
    told = asked(second_opinion=False)
    found = variants(told, KNOWN, 2, 30.0, Different(10.0))
    assert not any(each.formula.held for each in found.variants)
    assert found.variants[0].formula.amounts == pytest.approx(by_sums_alone(asked()))
    miss = found.told.second.missed[0]
    assert (miss.formula, miss.property, miss.at) == ("variant 1", "solid fat", 20.0)
    assert (miss.side, miss.limit) == ("min", 45.0)
    assert miss.figure < 45.0
    note = told_notes(found.told)[0]
    assert "straight sums here, as the scenario asks" in note
    assert "variant 1 has solid fat" in note
    assert "under the 45 asked for" in note


def test_what_cannot_be_reached_is_said_of_each_variant():
    most = wb.bound("cocoa_butter", high=78.0, table="limits")
    found = variants(asked(60.0, limits=(most,), only=ONLY[:3]), KNOWN, 1)
    assert not found.variants[0].formula.held
    assert "no formula was found for which that holds" in told_notes(found.told)[0]


def test_themes_hold_it():
    found = themes((asked(), KNOWN), [("as it is", (asked(), KNOWN))])
    assert found.alone[0].formula.held
    assert holds(found.alone[0].formula, asked())


def test_the_largest_batch_holds_it():
    lots = tuple(
        Lot(key, f"{key}-1", kg, None, wb.toml("stock"))
        for key, kg in (("cocoa_butter", 2.0), ("coconut_oil", 3.0), ("olive_oil", 1.0))
    )
    shelf = replace(KNOWN, stock=lots)
    found = stock(asked(), shelf, unit_kg=0.06)
    sums = stock(asked(second_opinion=False), shelf, unit_kg=0.06)
    assert holds(found.formula, asked())
    assert not holds(sums.formula, asked())
    assert found.most_kg < sums.most_kg
    gains = {each.name: each.kg_more for each in found.helps}
    more = replace(shelf, stock=(*lots, replace(lots[0], lot="2", amount=0.1)))
    again = stock(asked(), more)
    # The straight rules of the first answer can only hold the gain back.
    gain = gains[KNOWN.ingredients["cocoa_butter"].name]
    assert 0.0 < gain <= again.most_kg - found.most_kg + 0.02


def test_runners_up_hold_it():
    found = substitute(asked(), KNOWN, ["coconut oil"])
    assert holds(found.formula, asked())
    assert all(holds(each.formula, asked()) for each in found.runners_up)


def test_a_curve_holds_it_at_every_point_and_ends_where_formulate_does():
    found = tradeoff(asked(), KNOWN)
    assert len(found.points) > 1
    assert all(holds(point.formula, asked()) for point in found.points)
    least = formulate(asked(aims=(Aim("change"), Aim("cost"))), KNOWN)
    first, last = found.points[0], found.points[-1]
    assert first.across == pytest.approx(least.change.by_ingredient, rel=1e-3)
    assert last.up <= formulate(asked(), KNOWN).cost_per_kg * 1.003
    ups = [point.up for point in found.points]
    assert ups == sorted(ups, reverse=True)
    assert "hold by the second opinion too" in told_notes(found.told)[0]


def test_a_curve_of_one_straight_rule_is_kept_only_where_it_costs_nothing():
    """The scrub bar, asked for solid fat on a warm shelf: a straight rule is dearer."""
    scrub, known = read_scenario(shipped_folder("scenarios") / "foot_scrub_bar.toml")
    warm = wb.window("solid fat", 28.0, None, at=30.0, over="lipids")
    warm = replace(warm, origin=wb.toml("windows[3]"))
    scenario = replace(scrub, windows=(warm, *scrub.windows))
    found = tradeoff(scenario, known)
    aims = (Aim("change"), Aim("cost"))
    least = formulate(replace(scenario, aims=aims), known).change.by_ingredient
    assert not found.exact
    assert found.points[0].across == pytest.approx(least, abs=1e-3)
    found = tradeoff(scrub, known)  # as it is shipped it asks for firmness alone
    least = formulate(replace(scrub, aims=aims), known).change.by_ingredient
    assert found.exact
    assert found.points[0].across == pytest.approx(least, abs=1e-3)


def test_formulas_that_bear_more_hold_it():
    found = robust(asked(), KNOWN, Doubt(), [0.5], draws=50)
    formulas = [found.plain, *(each.formula for each in found.budgets if each.formula)]
    assert len(formulas) == 2
    assert all(holds(each, asked()) for each in formulas)


def test_a_sweep_of_prices_holds_it_in_every_case():
    lists = [
        ({"case": str(price)}, {"cocoa_butter": price, "mango_butter": 40.0 - price})
        for price in (8.0, 16.0, 32.0)
    ]
    found = sweep([Group({}, asked(), KNOWN, lists)])
    assert (found.melting, found.lined) == (1, 1)
    assert len({tuple(sorted(case.amounts)) for case in found.cases}) > 1
    assert all(holds(case, asked()) for case in found.cases)


def test_a_window_that_holds_by_both_is_said_to():
    hard = asked(20.0, limits=(wb.bound("cocoa_butter", low=70.0, table="limits"),))
    found = tradeoff(hard, KNOWN)
    assert "by the second opinion they hold too" in told_notes(found.told)[0]
    assert not found.told.held


# By straight sums 50, between 46 and 52; by the second opinion 48: from 44 to 50.
@pytest.mark.parametrize(
    ("least", "most", "cautious", "missed"),
    [
        (45.0, None, False, None),
        (45.0, None, True, ("min", 45.0)),
        (43.9, None, True, None),
        (48.1, None, False, ("min", 48.1)),
        (None, 49.9, False, None),
        (None, 49.9, True, ("max", 49.9)),
        (None, 50.1, True, None),
        (None, 47.9, False, ("max", 47.9)),
    ],
)
def test_a_cautious_window_is_missed_by_the_second_opinion_at_the_worse_end(
    least, most, cautious, missed
):
    scenario = asked(cautious=cautious)
    of_base = of_amounts("A", BASE, scenario, KNOWN)
    line = PropertyLine(
        "solid fat", 20.0, "lipids", 46.0, 50.0, 52.0, "%",
        second=48.0, least=least, most=most,
    )  # fmt: skip
    found = told([replace(of_base, properties=(line,))], scenario, KNOWN).second.missed
    assert [(each.side, each.limit) for each in found] == ([missed] if missed else [])
