"""Prices against moving the limit and solving again; clashes rule by rule."""

import numpy as np
import pytest
from hypothesis import assume, given
from msgspec.structs import replace

from optimiser.domain.rule import Column, Goal, Programme, Row
from optimiser.explaining.clashes import smallest_clash
from optimiser.explaining.prices import is_binding, price_sides
from optimiser.explaining.reaches import known_reaches
from optimiser.explaining.slopes import known_sides, known_slopes
from optimiser.solving import Infeasible, optimise
from tests.published import programmes
from tests.solving.random_programmes import blends
from tests.solving.random_programmes import rule as blend_rule
from tests.solving.test_optimise import small


def with_limit(programme, number, limit):
    rules = list(programme.rules)
    rules[number] = replace(rules[number], limit=limit)
    return replace(programme, rules=tuple(rules))


def without(programme, rule):
    kept = tuple(each for each in programme.rules if each.id != rule.id)
    return replace(programme, rules=kept)


def steps(rule, sides):
    for price, sign in ((sides.ease, -1.0), (sides.tighten, 1.0)):
        towards = sign if rule.side == "min" else -sign
        yield price, towards


@given(blends(most=8))
def test_a_price_is_what_moving_the_limit_costs(programme):
    optimum = optimise(programme)
    assume(not isinstance(optimum, Infeasible))
    binding = [
        number
        for number, rule in enumerate(programme.rules)
        if is_binding(rule, rule.slack(optimum.amounts)) and rule.id != "total"
    ]
    for number, sides in price_sides(optimum, binding).items():
        rule = programme.rules[number]
        for price, towards in steps(rule, sides):
            # A price says what half its reach, but no more than one unit, costs.
            reach = 1.0
            if price is not None and price.until is not None:
                reach = min(1.0, abs(price.until - rule.limit) / 2)
            moved = optimise(
                with_limit(programme, number, rule.limit + towards * reach)
            )
            if price is None:  # nothing is left, or the smallest step is a jump
                step = 1e-5 * max(1.0, abs(rule.limit))
                near = optimise(
                    with_limit(programme, number, rule.limit + towards * step)
                )
                assert isinstance(near, Infeasible) or (
                    near.best[0] - optimum.best[0] > 1e-3
                )
                continue
            assert not isinstance(moved, Infeasible)
            wanted = price.price * reach
            # A window's price holds to 2 % of itself (decision 4).
            tolerance = 0.021 * abs(wanted) if rule.curved else 1e-5 * abs(wanted)
            assert moved.best[0] - optimum.best[0] == pytest.approx(
                wanted, abs=tolerance + 2e-6
            )


@given(blends(most=8))
def test_easing_never_makes_the_aim_worse_and_tightening_never_better(programme):
    optimum = optimise(programme)
    assume(not isinstance(optimum, Infeasible))
    numbers = range(1, len(programme.rules))
    for sides in price_sides(optimum, numbers).values():
        assert sides.ease is None or sides.ease.price <= 1e-6
        assert sides.tighten is None or sides.tighten.price >= -1e-6


@given(blends(most=8))
def test_how_far_a_corner_says_a_price_holds_is_how_far_it_is_followed(programme):
    """The solver's own ranges, where it has them, against walking the limit."""
    optimum = optimise(programme)
    assume(not isinstance(optimum, Infeasible))
    session = optimum.session
    session.aim_at(0, optimum.tops)
    session.run()
    numbers = range(1, len(programme.rules))
    known = known_slopes(session, numbers)
    told = known_reaches(session, known)
    best = session.objective()
    for (number, direction), reach in told.items():
        slope = direction * known[number]
        if abs(slope) > 1e-7:
            followed = session.reach(number, direction, slope, best)
            assert reach == pytest.approx(followed, rel=1e-6, abs=1e-6)


def tied(seed):
    """A blend in whole percent that rests on more rules than it needs; costs tie."""
    random = np.random.default_rng(seed)
    size = int(random.integers(4, 11))
    hidden = random.multinomial(20, np.ones(size) / size) * 5.0
    rules = [blend_rule("total", "exact", 100, enumerate(np.ones(size)), (), 1.0)]
    for number in range(int(random.integers(5, 14))):
        figures = random.integers(0, 3, size).astype(float)
        room = float(random.choice([0.0, 0.0, 10.0]))
        side = ["min", "max", "exact"][int(random.choice(3, p=[0.45, 0.45, 0.1]))]
        room = {"min": -room, "max": room, "exact": 0.0}[side]
        limit = float(figures @ hidden) / 2.0 + room
        row = [(i, a) for i, a in enumerate(figures) if a]
        rules.append(blend_rule(f"rule {number}", side, limit, row, (), 2.0))
    costs = random.integers(1, 9, size) / 10.0
    return Programme(
        ingredients=tuple(f"i{i}" for i in range(size)),
        columns=tuple(Column("amount", f"i{i}", 0.0, 100.0) for i in range(size)),
        rules=tuple(rules),
        links=(),
        goals=(Goal("cost", "EUR/kg", Row.of(enumerate(costs))),),
    )


def above_line(programme, number, step, slope):
    """Solve afresh with a limit moved; how far above a line from here, if at all."""
    here, limit = optimise(programme), programme.rules[number].limit
    moved = optimise(with_limit(programme, number, limit + step))
    if isinstance(moved, Infeasible):
        return np.inf
    return moved.best[0] - here.best[0] - slope * step


def test_what_a_corner_with_many_prices_tells_of_a_side_is_what_solving_afresh_finds():
    sides = ends = 0
    for programme in map(tied, range(100)):
        session = optimise(programme).session
        numbers = range(1, len(programme.rules))
        known = known_sides(session, numbers)
        for (number, direction), (slope, reach) in known.items():
            if session.prices_are_unique():
                continue
            limit = programme.rules[number].limit
            far = 1e-3 * max(1.0, limit) if reach is None else min(reach, 50.0)
            near = above_line(programme, number, direction * 0.99 * far, slope)
            assert near == pytest.approx(0.0, abs=1e-8)
            sides += 1
            if slope and reach is not None and reach < 50.0:
                after = direction * (reach + 1.0)
                assert above_line(programme, number, after, slope) > 1e-4
                ends += 1
    assert sides > 100
    assert ends > 50


@pytest.mark.parametrize(("tied_to", "told"), [(None, 0.08), ("first", None)])
def test_beside_tied_rules_a_corner_does_not_tell_how_far_a_price_holds_if_not_far(
    tied_to, told
):
    def most(name, limit, *columns):
        row = [(column, 1.0) for column in columns]
        return blend_rule(name, "max", limit, row, per_constant=1.0)

    # At least 40 of a is at most 60 of b and c; 0.08 on, another rule is met.
    met = most("b and c", 60, 1, 2), most("a max", 40.08, 0)
    apart = most("first", 90, 1), replace(most("second", 90, 1), moves_with=tied_to)
    session = optimise(replace(small(), rules=(*small().rules, *met, *apart))).session
    assert not session.prices_are_unique()
    known = known_sides(session, range(3))
    assert known
    for _, reach in known.values():
        assert reach is None if told is None else reach == pytest.approx(told)


@pytest.mark.parametrize(
    ("unit", "figure", "between", "down", "up"),
    [
        ("%", 1.0, (-40.0, 90.0), 40.0, 50.0),
        ("%", 1.0, (10.0, 120.0), 30.0, 60.0),
        ("points", 1.0, (10.0, 120.0), 30.0, 80.0),
        ("%", -1.0, (-120.0, 40.0), 80.0, 60.0),
    ],
)
def test_a_price_ends_where_its_limit_means_nothing_any_more(
    unit, figure, between, down, up
):
    least = blend_rule("least", "min", 40, [(0, figure)], per_constant=1.0)
    asked = Programme(
        ingredients=("a",),
        columns=(Column("amount", "a", *between),),
        rules=(replace(least, unit=unit),),
        links=(),
        goals=(Goal("cost", "EUR/kg", Row.of([(0, 2.0 * figure)])),),
    )
    session = optimise(asked).session
    assert known_slopes(session, [0]) == {0: pytest.approx(2.0)}
    ends = known_reaches(session, {0: 2.0})
    assert ends == pytest.approx({(0, -1.0): down, (0, 1.0): up})


def assert_minimal(programme, clash):
    chosen = {rule.id for rule in clash}
    alone = replace(
        programme, rules=tuple(r for r in programme.rules if r.id in chosen)
    )
    assert isinstance(optimise(alone), Infeasible)
    for rule in clash:
        assert not isinstance(optimise(without(alone, rule)), Infeasible)


@pytest.mark.parametrize("whole", [False, True], ids=["continuous", "with choices"])
def test_a_clash_ends_when_any_one_of_its_rules_is_taken_away(whole):
    seen = 0

    @given(blends(most=6, whole=whole))
    def minimal(programme):
        nonlocal seen
        found = optimise(programme)
        assume(isinstance(found, Infeasible))
        assert_minimal(programme, smallest_clash(found.session))
        seen += 1

    minimal()
    assert seen > 5


@pytest.mark.parametrize(
    "name", ["g1", "g2", "g3", "g4", "g6", "g7", "g8", "g9", "g10"]
)
def test_a_published_clash_is_cut_down_to_a_minimal_one(name):
    programme, _ = programmes.programme_of(programmes.case(name), bounds_as_rules=True)
    nothing = replace(programme.goals[0], row=Row.of(()))
    programme = replace(programme, goals=(nothing,))
    found = optimise(programme)
    assert isinstance(found, Infeasible)
    assert_minimal(programme, smallest_clash(found.session))
