"""Optima, amounts and two-sided prices against published linear programmes."""

import json
import math
from pathlib import Path

import pytest

from optimiser.explaining.prices import is_binding, price_sides
from optimiser.solving import Infeasible, optimise
from tests.published import programmes

OPTIMAL = programmes.names(status="optimal")
NETLIB = json.loads(
    (Path(__file__).resolve().parent / "netlib" / "netlib.json").read_text("utf-8")
)["instances"]


def solved(name, solver="highs"):
    data = programmes.case(name)
    programme, sign = programmes.programme_of(data)
    return data, programme, sign, optimise(programme, solver)


@pytest.mark.parametrize("name", OPTIMAL)
def test_the_optimum_is_the_published_one(name):
    data, _, sign, optimum = solved(name)
    wanted = data["published"].get("objective")
    if wanted is None:
        wanted, tolerance = data["computed"]["objective"], 1e-6
    else:
        tolerance = max(data["published"].get("objective_tol", 1e-9), 1e-9)
    assert sign * optimum.best[-1] == pytest.approx(
        wanted, abs=tolerance + 1e-9 * abs(wanted)
    )


@pytest.mark.parametrize(
    "name",
    [n for n in OPTIMAL if programmes.case(n)["published"].get("values_unique")],
)
def test_the_amounts_are_the_published_ones(name):
    data, programme, _, optimum = solved(name)
    found = programmes.amounts_of(programme, optimum)
    wanted = data["published"].get("values", {})
    tolerance = data["published"].get("values_tol", 1e-6)
    assert {k: found[k] for k in wanted} == pytest.approx(wanted, abs=tolerance)


@pytest.mark.parametrize("name", ["a1", "a3", "b2", "d01", "d12", "d25", "d28"])
def test_cbc_finds_the_same_value_from_the_same_rules(name):
    data, _, sign, optimum = solved(name, solver="cbc")
    assert sign * optimum.best[-1] == pytest.approx(
        data["computed"]["objective"], rel=1e-6
    )


def two_sided_cases():
    for name in OPTIMAL:
        for where, told in (
            programmes.case(name)["computed"].get("two_sided", {}).items()
        ):
            yield pytest.param(name, where, told, id=f"{name}-{where}")


@pytest.mark.parametrize(("name", "where", "told"), list(two_sided_cases()))
def test_both_sides_of_a_price_and_their_reach_are_the_true_ones(name, where, told):
    _, programme, sign, optimum = solved(name)
    row, side = where.rsplit(":", 1)
    wanted = {"lower": f"{row}:min", "upper": f"{row}:max", "both": f"{row}:exact"}
    number = [r.id for r in programme.rules].index(wanted[side])
    rule = programme.rules[number]
    # Where several plans are optimal a limit may bind in one and not in another.
    assert is_binding(rule, rule.slack(optimum.amounts)) or told["left"] == 0
    sides = price_sides(optimum, [number])[number]
    down = {"min": sides.ease, "max": sides.tighten}.get(rule.side)
    up = {"min": sides.tighten, "max": sides.ease}.get(rule.side)
    if rule.side == "exact":
        down, up = sides.lowering, sides.raising
    for price, slope, reach, way in (
        (down, told["left"], told.get("left_to"), -1.0),
        (up, told["right"], told.get("right_to"), 1.0),
    ):
        if slope is None:
            assert price is None
            continue
        assert price is not None
        assert way * sign * price.price == pytest.approx(slope, rel=1e-5, abs=1e-7)
        if price.price == 0.0:
            continue
        until = math.copysign(math.inf, way) if price.until is None else price.until
        end = programmes.as_number(reach)
        # The published ends carry nine digits; ours come from a programme solved
        # with 1e-9 of room in the goal.
        assert until == pytest.approx(end, rel=1e-4, abs=1e-4)


@pytest.mark.parametrize("instance", NETLIB, ids=lambda i: i["name"])
def test_a_netlib_instance_has_its_published_optimum(instance):
    programme, constant = programmes.netlib(instance["name"])
    value = optimise(programme).best[0] + constant
    wanted = instance["published_objective"]
    assert value == pytest.approx(float(wanted), rel=1e-9)


@pytest.mark.parametrize("name", programmes.names(status="infeasible"))
def test_a_case_without_an_answer_is_told_as_such(name):
    programme, _ = programmes.programme_of(programmes.case(name))
    assert isinstance(optimise(programme), Infeasible)
