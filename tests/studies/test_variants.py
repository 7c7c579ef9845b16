"""Variants against complete enumeration on small cases, and themes."""

from itertools import chain, combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy.optimize import linprog

from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.domain.scenario import Exclusions
from optimiser.errors import InputError
from optimiser.explaining import Clash
from optimiser.solving import Infeasible, optimise
from optimiser.studies.apart import far_from
from optimiser.studies.made import distance
from optimiser.studies.themes import both, themes
from optimiser.studies.variants import Different, variants
from tests.published.programmes import case, programme_of
from tests.rules.workbench import bound, catalogue, pin, scenario

KINDS = {
    "cocoa": "hard butter", "kokum": "hard butter", "shea": "soft butter",
    "olive": "liquid oil", "grape": "liquid oil",
}  # fmt: skip
KEYS = list(KINDS)
GROUPS = [[0, 1], [2], [3, 4]]
LIMITS = [(20.0, 60.0), (10.0, 40.0), (20.0, 60.0)]


def asked(**more):
    bands = [
        bound(KINDS[KEYS[group[0]]], low, high)
        for group, (low, high) in zip(GROUPS, LIMITS, strict=True)
    ]
    return scenario(bands=tuple(bands), **more)


def known(prices):
    return catalogue(KINDS, prices=dict(zip(KEYS, prices, strict=True)))


def plain(prices, extra=(), bounds=None):
    """Least cost under the bands by another solver; ``extra`` is (row, at least)."""
    rows, sides = [], []
    for group, (low, high) in zip(GROUPS, LIMITS, strict=True):
        row = np.zeros(5)
        row[group] = 1.0
        rows += [-row, row]
        sides += [-low, high]
    for row, least in extra:
        rows.append(-np.array(row))
        sides.append(-least)
    return linprog(
        np.array(prices) / 100.0,
        A_ub=rows,
        b_ub=sides,
        A_eq=[np.ones(5)],
        b_eq=[100.0],
        bounds=bounds or [(0, 100)] * 5,
    )


def subsets(items):
    return chain.from_iterable(combinations(items, n) for n in range(len(items) + 1))


def cheapest_apart(prices, others, least):
    """The least cost so far from all others: every way to be, one by one.

    A formula is that far from another exactly where some of what the other holds
    falls by so much in sum.
    """
    best = np.inf
    ways = [list(subsets([i for i in range(5) if other[i] > 0])) for other in others]
    for choice in product(*ways):
        extra = []
        for other, falls in zip(others, choice, strict=True):
            row = np.zeros(5)
            row[list(falls)] = -1.0
            extra.append((row, least - sum(other[i] for i in falls)))
        found = plain(prices, extra)
        if found.status == 0:
            best = min(best, found.fun)
    return best


def shares(made):
    return [made.amounts.get(key, 0.0) for key in KEYS]


@settings(deadline=None, max_examples=15)
@given(
    st.lists(st.integers(1, 30), min_size=5, max_size=5),
    st.sampled_from([5.0, 15.0, 30.0]),
)
def test_each_variant_is_the_cheapest_of_all_that_are_so_different(prices, least):
    result = variants(asked(), known(prices), 3, 40.0, Different(least, lines={}))
    found = [shares(each.formula) for each in result.variants]
    assert result.variants[0].formula.cost_per_kg == pytest.approx(plain(prices).fun)
    most = plain(prices).fun * 1.4
    for number in range(1, len(found)):
        cost = cheapest_apart(prices, found[:number], least)
        assert result.variants[number].formula.cost_per_kg == pytest.approx(cost)
        assert cost <= most + 1e-6
    if result.complete:
        beyond = cheapest_apart(prices, found, least)
        assert beyond > most - 1e-6
        if result.next_dearer_percent is None:
            assert beyond == np.inf
        else:
            dearer = 100 * (beyond / plain(prices).fun - 1)
            assert result.next_dearer_percent == pytest.approx(dearer, abs=1e-4)


def test_one_oil_for_its_like_is_no_difference_by_kind():
    """Grape for olive differs by 60 % by ingredient, and by nothing by kind."""
    plain = known([5, 6, 7, 4.0, 4.1])
    like = {
        key: replace(each, kind="light" if each.category == "liquid oil" else None)
        for key, each in plain.ingredients.items()
    }
    kinds = replace(plain, ingredients=like)
    oils = {3, 4}

    def butters(each):
        return [
            share for at, share in enumerate(shares(each.formula)) if at not in oils
        ]

    by_name = variants(asked(), kinds, 2, 50.0, Different(10.0, lines={}))
    assert butters(by_name.variants[0]) == pytest.approx(butters(by_name.variants[1]))
    alike = Different(0.0, lines={}, points_by_kind=10.0)
    by_kind = variants(asked(), kinds, 2, 50.0, alike)
    moved = [
        abs(one - other)
        for one, other in zip(*map(butters, by_kind.variants), strict=True)
    ]
    assert max(moved) >= 10.0 - 1e-6


@settings(deadline=None, max_examples=15)
@given(st.lists(st.integers(1, 30), min_size=5, max_size=5, unique=True))
def test_other_sets_come_in_the_order_of_complete_enumeration(prices):
    sets = Different(0.0, 0.0, True, lines={})
    result = variants(asked(), known(prices), 6, 900.0, sets)
    costs = []
    for used in subsets(range(5)):
        limits = [(0.1, 100) if i in used else (0, 0) for i in range(5)]
        found = plain(prices, bounds=limits)
        if found.status == 0:
            costs.append(found.fun)
    assert [each.formula.cost_per_kg for each in result.variants] == pytest.approx(
        sorted(costs)[: len(result.variants)]
    )
    assert len(result.variants) == min(6, len(costs))
    sets = [frozenset(each.formula.amounts) for each in result.variants]
    assert len(set(sets)) == len(sets)


def test_that_no_more_exist_is_said_when_it_is_true():
    result = variants(asked(), known([10, 40, 9, 5, 45]), 4, 5.0, Different(10.0))
    assert result.complete
    assert len(result.variants) < 4
    assert result.next_dearer_percent > 5.0


def test_nothing_as_different_exists_at_all():
    narrow = scenario(bands=(bound("hard butter", 99.0), bound("kokum", None, 0.5)))
    result = variants(narrow, known([1, 2, 3, 4, 5]), 2, 100.0, Different(90.0))
    assert result.complete
    assert result.next_dearer_percent is None


def test_distance_by_category_counts_too():
    result = variants(asked(), known([5, 5, 5, 5, 5]), 3, 10.0, Different(0.0, 20.0))
    assert len(result.variants) == 3
    off = [result.apart_by_category[i][j] for i in range(3) for j in range(3) if i != j]
    assert min(off) >= 20.0 - 1e-6
    assert result.apart[0][0] == 0.0


def test_aims_before_cost_are_not_held_and_said():
    base = {"cocoa": 40.0, "shea": 20.0, "olive": 40.0}
    first = asked(base=base, aims=("change", "cost"))
    result = variants(first, known([9, 8, 7, 6, 5]), 2)
    assert result.aims_let_go == ("change", "cost")
    assert result.variants[0].formula.cost_per_kg == pytest.approx(
        plain([9, 8, 7, 6, 5]).fun
    )


def test_a_clash_is_returned_as_one():
    clashing = scenario(bands=(bound("hard butter", 60), bound("liquid oil", 60)))
    assert isinstance(variants(clashing, known([1] * 5)), Clash)


def test_bounds_that_make_no_sense_are_told_all_at_once():
    with pytest.raises(InputError) as told:
        variants(asked(), known([1] * 5), 0, -1.0, Different(0.0))
    assert [each.field for each in told.value.problems] == [
        "--count",
        "--within",
        "--apart",
    ]
    with pytest.raises(InputError, match="'21' is not from 1 to 20"):
        variants(asked(), known([1] * 5), 21)


# Published: 6 X1 + 4 X2 is 48 at (8, 0) and at (4, 6) (Arsham, see the case).
def test_the_other_optimal_corner_of_a_published_case_is_found():
    published = case("f5")
    programme, _ = programme_of(published)
    found = optimise(programme)
    first = dict(zip(("X1", "X2"), found.amounts, strict=True))
    corners = published["published"]["optimal_corners"]
    other = next(c for c in corners if abs(c["X1"] - first["X1"]) > 1e-6)
    # In that programme amounts do not sum to 100, so distance is what falls.
    falls = max(first[name] - other[name] for name in first)
    apart = far_from(programme, first, falls, "the first")
    second = optimise(apart)
    assert second.best[0] == pytest.approx(found.best[0])
    assert second.amounts[:2] == pytest.approx([other["X1"], other["X2"]])


# Published: several plans with one profit (Williams, sections 12.1 and 12.2).
@pytest.mark.parametrize("name", ["a2", "a3"])
def test_another_plan_of_the_same_published_profit_is_found(name):
    programme, _ = programme_of(case(name))
    first = optimise(programme)
    scale = 100.0 / max(first.amounts.max(), 1.0)
    second = optimise(_other_plan(programme, first.amounts))
    assert not isinstance(second, Infeasible)
    assert second.best[0] == pytest.approx(first.best[0], rel=1e-6)
    size = first.amounts.size
    assert np.abs(second.amounts[:size] - first.amounts).max() * scale > 0.5


def _other_plan(programme, amounts):
    """The same question with one of the largest amounts 1 % or more lower."""
    columns, links = list(programme.columns), list(programme.links)
    flags = []
    for column in np.flatnonzero(amounts > 1.0):
        flag = len(columns)
        columns.append(Column("counts", str(column), 0.0, 1.0, whole=True))
        top = 2000.0
        row = Row.of([(int(column), 1.0), (flag, top)])
        links.append(Link(row, -np.inf, 0.9 * amounts[column] + top))
        flags.append((flag, 1.0))
    links.append(Link(Row.of(flags), 1.0, np.inf))
    return replace(programme, columns=tuple(columns), links=tuple(links))


def test_distance_is_half_the_moves_both_ways():
    programme = Programme(
        ("a", "b"),
        (Column("amount", "a", 0.0, 100.0), Column("amount", "b", 0.0, 100.0)),
        (),
        (),
        (Goal("cost", "", Row.of([(0, 1.0)])),),
    )
    moved = far_from(programme, {"a": 70.0, "b": 30.0}, 25.0, "it")
    assert len(moved.columns) == 6
    assert distance({"a": 70, "b": 30}, {"a": 45, "b": 55}) == 25


def read(**more):
    return asked(**more), known([9, 8, 7, 6, 5])


def test_themes_are_priced_alone_and_in_pairs():
    no_shea = read(exclude=Exclusions(ingredients=("kokum",)))
    no_grape = read(exclude=Exclusions(ingredients=("grape",)))
    result = themes(read(), [("a", no_shea), ("b", no_grape)], [(0, 1, no_grape)])
    costs = [each.formula.cost_per_kg for each in (result.plain, *result.alone)]
    assert costs[0] < min(costs[1:])
    pair = result.pairs[0, 1].formula
    assert not {"kokum", "grape"} & set(pair.amounts)
    assert pair.cost_per_kg >= max(costs)


def test_a_theme_that_is_not_possible_says_which_rules_clash():
    out = read(exclude=Exclusions(ingredients=("shea",)), pins=(pin("grape", 20.0),))
    result = themes(read(), [("no shea", out)])
    assert result.alone[0].formula is None
    assert any("soft butter at least 10 %" in why for why in result.alone[0].why)


def test_two_themes_keep_both_promises():
    first = Exclusions(allergens=("tree nut",), reading="cautious")
    second = Exclusions(ingredients=("shea",), vegan=True)
    joined = both(first, second)
    assert joined.reading == "cautious"
    assert (joined.allergens, joined.ingredients) == (("tree nut",), ("shea",))
    assert joined.vegan


# All of the five are butters and oils, of which a maker weighs 2 % or none.
def test_what_further_variants_hold_they_hold_enough_of_to_weigh():
    sets = Different(0.0, 0.0, True)
    result = variants(asked(), known([1, 2, 3, 4, 5]), 6, 900.0, sets)
    assert len(result.variants) == 6
    used = [x for each in result.variants[1:] for x in shares(each.formula) if x > 0]
    least = min(used)
    assert least >= 2.0 - 1e-6
    any_set = Different(0.0, 0.0, True, lines={})
    traces = variants(asked(), known([1, 2, 3, 4, 5]), 6, 900.0, any_set)
    assert min(x for x in shares(traces.variants[1].formula) if x > 0) < 0.2


def test_without_a_price_variants_are_the_nearest_where_no_aim_is_about_cost():
    base = {"cocoa": 40.0, "shea": 20.0, "olive": 40.0}
    near = asked(base=base, aims=("change",))
    result = variants(near, known([9, 8, 7, None, 5]), 4)
    assert (result.by, result.aims_let_go) == ("change", ())
    changes = [each.formula.change.by_ingredient for each in result.variants]
    assert changes == pytest.approx([0.0, 10.0, 10.0, 10.0])
    assert min(x for row in result.apart for x in row if x) >= 10.0 - 1e-6
    assert {each.dearer_percent for each in result.variants} == {None}


def test_what_has_no_price_stops_variants_with_the_reason_they_need_it():
    base = {"cocoa": 40.0, "shea": 20.0, "olive": 40.0}
    near = asked(base=base, aims=("change", "cost"))
    with pytest.raises(InputError, match="variants are those nearly as cheap") as told:
        variants(near, known([9, 8, 7, None, 5]), 2)
    assert "no price is known" in str(told.value)
