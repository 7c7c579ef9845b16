"""Trade-offs: the walked curve against dense re-solving by another solver."""

from importlib import import_module
from itertools import count, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.domain.wording import Fixed
from optimiser.errors import InputError
from optimiser.explaining import Clash
from optimiser.explaining.answering import Question
from optimiser.solving import SolverError
from optimiser.studies.tradeoff import tradeoff
from optimiser.studies.tradeoff.walking import corners, extreme
from tests.rules.workbench import bound, catalogue, choice, scenario, toml, window

curve_module = import_module("optimiser.studies.tradeoff.curve")

KINDS = {
    "cocoa": "hard butter", "kokum": "hard butter", "shea": "soft butter",
    "mango": "soft butter", "olive": "liquid oil", "grape": "liquid oil",
}  # fmt: skip
KEYS = list(KINDS)
FAT = dict(zip(KEYS, [80.0, 90.0, 30.0, 35.0, 0.0, 0.0], strict=True))
BASE = dict(zip(KEYS, [30.0, 10.0, 20.0, 5.0, 30.0, 5.0], strict=True))


def asked(**more):
    bands = (bound("hard butter", 25, 60), bound("liquid oil", 15, 50))
    return scenario(**({"base": BASE, "bands": bands} | more))


def known(prices=(12, 9, 8, 14, 7, 4)):
    return catalogue(
        KINDS,
        prices=dict(zip(KEYS, prices, strict=True)),
        figures={"solid fat": {key: {30.0: fat} for key, fat in FAT.items()}},
    )


def curve(*names, of=None, **more):
    result = tradeoff(of or asked(), known(**more), names or ("cost", "change"))
    assert not isinstance(result, Clash)
    return result


def dense(prices, most, extra=()):
    """Least cost with a change of at most so many points; None if impossible."""
    eye = np.eye(6)
    hard = [float(KINDS[key] == "hard butter") for key in KEYS]
    oil = [float(KINDS[key] == "liquid oil") for key in KEYS]
    none = [0.0] * 6
    rows = [
        [-h for h in hard] + none,
        hard + none,
        [-o for o in oil] + none,
        oil + none,
    ]
    sides = [-25.0, 60.0, -15.0, 50.0]
    rows += np.hstack([eye, -eye]).tolist()
    sides += list(BASE.values())
    rows.append([0.0] * 6 + [1.0] * 6)
    sides.append(most)
    for row, side in extra:
        rows.append([*row, *none])
        sides.append(side)
    found = linprog(
        [*(np.array(prices) / 100.0), *none],
        A_ub=rows,
        b_ub=sides,
        A_eq=[[1.0] * 6 + none],
        b_eq=[100.0],
        bounds=[(0, 100)] * 6 + [(0, None)] * 6,
    )
    return found.fun if found.status == 0 else None


@settings(deadline=None, max_examples=15)
@given(st.lists(st.floats(1, 40), min_size=6, max_size=6))
def test_the_curve_is_the_one_that_dense_re_solving_draws(prices):
    result = curve(prices=prices)
    across = [point.across for point in result.points]
    up = [point.up for point in result.points]
    for most in np.linspace(across[0], across[-1], 25):
        drawn = float(np.interp(most, across, up))
        assert drawn == pytest.approx(dense(prices, most), abs=1e-5)


@settings(deadline=None, max_examples=15)
@given(st.lists(st.floats(1, 40), min_size=6, max_size=6))
def test_every_corner_bends_the_curve_downwards(prices):
    slopes = [point.slope for point in curve(prices=prices).points[:-1]]
    assert all(slope < 0 for slope in slopes)
    assert all(b > a - 1e-9 for a, b in pairwise(slopes))


def test_each_formula_lies_where_its_point_does():
    for point in curve().points:
        assert point.formula.change.by_ingredient == pytest.approx(
            point.across, abs=1e-5
        )
        assert point.formula.cost_per_kg == pytest.approx(point.up, abs=1e-7)


def test_steps_are_read_off_the_curve():
    result = curve()
    first = result.points[0].up
    for step in result.steps:
        left = first * (1 - step.percent / 100)
        assert dense((12, 9, 8, 14, 7, 4), step.across) == pytest.approx(left, abs=1e-5)
    assert sum(s.further for s in result.steps) == pytest.approx(
        result.steps[-1].across
    )


def test_the_elbow_lies_furthest_below_the_line_between_the_ends():
    result = curve()
    first, last = result.points[0], result.points[-1]

    def below(point):
        share = (point.across - first.across) / (last.across - first.across)
        return first.up + share * (last.up - first.up) - point.up

    assert result.elbow == max(result.points, key=below).name


def test_firmness_levels_are_those_of_re_solving():
    result = curve("cost", "solid fat at 30 degC")
    assert not result.exact
    fats = list(FAT.values())
    for point in result.points[::5]:
        row = [(point.across - fat) for fat in fats]
        expected = dense((12, 9, 8, 14, 7, 4), 100.0, [(row, 0.0)])
        assert point.up == pytest.approx(expected, abs=1e-5)
    top = max(point.across for point in result.points)
    assert (
        dense((12, 9, 8, 14, 7, 4), 100.0, [([top + 0.01 - f for f in fats], 0.0)])
        is None
    )


def test_less_of_a_property_may_be_wished():
    result = curve("less solid fat at 30 degC", "cost")
    assert result.up.name == "cost"
    assert result.points[0].across < result.points[-1].across
    fats, prices = list(FAT.values()), (12, 9, 8, 14, 7, 4)
    least = result.points[0].across
    assert dense(prices, 100.0, [([f - least - 1e-6 for f in fats], 0.0)]) is not None
    assert dense(prices, 100.0, [([f - least + 0.01 for f in fats], 0.0)]) is None


def test_choices_make_proved_levels():
    of = asked(choices=(choice("all", None, 4),))
    result = curve(of=of)
    assert not result.exact
    assert all(len(point.formula.amounts) <= 4 for point in result.points)
    ups = [point.up for point in result.points]
    assert ups == sorted(ups, reverse=True)


# Each search after the first two, which find the ends, ends with nothing: every one,
# or every other one.
@pytest.mark.parametrize(("in_vain", "points"), [(1, None), (2, 11)])
def test_a_place_not_found_in_the_time_is_left_out_and_none_without_an_end(
    in_vain, points, monkeypatch
):
    searched, asked_for = curve_module.best, count(1)

    def found(*arguments, **more):
        number = next(asked_for)
        if number > 2 and number % in_vain == 0:
            raise SolverError("nothing was found")
        return searched(*arguments, **more)

    monkeypatch.setattr(curve_module, "best", found)
    of = asked(choices=(choice("all", None, 4),))
    with pytest.raises(SolverError):
        tradeoff(of, known())
    asked_for = count(1)
    if points is None:
        with pytest.raises(InputError, match="for an end of the curve in the time"):
            tradeoff(of, known(), seconds=1e6)
    else:
        assert len(tradeoff(of, known(), seconds=1e6).points) == points


def test_fewer_ingredients_cost_more():
    result = curve("cost", "count")
    assert [round(point.across) for point in result.points] == sorted(
        {len(point.formula.amounts) for point in result.points}
    )


@pytest.mark.parametrize(("point", "across"), [("a", 0.0), ("elbow", None), ("5", 5.0)])
def test_the_formula_at_any_point_is_made(point, across):
    result = tradeoff(asked(), known(), write=point)
    name, formula = result.chosen
    if across is not None:
        assert formula.change.by_ingredient == pytest.approx(across, abs=1e-6)
    else:
        assert name == result.elbow


@pytest.mark.parametrize("point", ["ZZ", "-3", "nothing"])
def test_a_point_off_the_curve_is_told(point):
    with pytest.raises(InputError, match="is no point of the curve"):
        tradeoff(asked(), known(), write=point)


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (("cost", "cost"), "is there twice"),
        (("firmness", "solid fat"), "is a property, as the other one is"),
        (("cost", "firmnes"), "the nearest known name is firmness"),
    ],
)
def test_axes_that_make_no_sense_are_told(names, told):
    with pytest.raises(InputError, match=told):
        tradeoff(asked(), known(), names)


def test_a_property_of_what_nothing_belongs_to_says_so():
    grains = catalogue(dict.fromkeys(("salt", "sugar"), "exfoliant"))
    with pytest.raises(InputError) as told:
        tradeoff(scenario(), grains, ("cost", "firmness at 25 degC"))
    assert str(told.value) == (
        "option --between: 'firmness' says nothing here: nothing that may be used"
        " belongs to the lipids.\n  To fix: name another property."
    )


def test_change_needs_a_base():
    with pytest.raises(InputError, match="has no base to change from"):
        tradeoff(asked(base={}), known())


def test_a_clash_is_returned_as_one():
    of = asked(bands=(bound("hard butter", 60), bound("liquid oil", 60)))
    assert isinstance(tradeoff(of, known()), Clash)
    assert isinstance(tradeoff(of, known(), ("cost", "solid fat")), Clash)


def test_the_window_of_the_scenario_says_what_a_property_is_over():
    of = asked(windows=(window("solid fat", 10.0, None, at=30.0, over="fats"),))
    assert curve("cost", "solid fat", of=of).across.over == "fats"


# Arsham, alternative optima: 6 X1 + 4 X2 against X1 on X1 + 2 X2 <= 16,
# 3 X1 + 2 X2 <= 24. By hand: from (0, 8) worth 32 to (4, 6) worth 48 at X1 = 4.
def test_a_curve_known_by_hand():
    rows = [("r1", [(0, 1.0), (1, 2.0)], 16.0), ("r2", [(0, 3.0), (1, 2.0)], 24.0)]
    rules = tuple(
        Rule(name, Fixed(name), "row", "max", side, "", Row.of(pairs), "wish",
             toml(name), per_constant=1.0)
        for name, pairs, side in rows
    )  # fmt: skip
    columns = tuple(Column("amount", key) for key in ("X1", "X2"))
    worth = Goal("worth", "", Row.of([(0, -6.0), (1, -4.0)]))
    across = Goal("across", "", Row.of([(0, 1.0)]))
    programme = Programme(("X1", "X2"), columns, rules, (), (worth, across))
    asked_of = Question(scenario(), programme)
    assert [(p.across, p.up) for p in corners(asked_of, known())] == [
        pytest.approx((0.0, -32.0)),
        pytest.approx((4.0, -48.0)),
    ]
    ratio = Rule(
        "x", Fixed("x"), "window", "min", 0.0, "", Row.of([(0, 1.0)]), "wish",
        toml("x"), per=Row.of([(0, 1.0), (1, 1.0)]),
    )  # fmt: skip
    assert extreme(asked_of, ratio, known()) == pytest.approx(1.0)
