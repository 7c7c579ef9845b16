"""A limit that a scenario gives another rule is one that the rule itself can have."""

import pytest
from msgspec.structs import replace

from optimiser.errors import InputError
from optimiser.rules import build
from optimiser.rules.build import KINDS
from tests.rules import workbench as wb

KNOWN = wb.catalogue(
    {"oil": "liquid oil", "wax": "wax"},
    figures={"viscosity": {"oil": {70.0: 10.0}, "wax": {70.0: 30.0}}},
    limits=(wb.usage("wax", "practice", 20.0),),
)
ASKED = wb.scenario(
    base={"oil": 90.0, "wax": 10.0},
    bands=(wb.bound("wax", 2.0), wb.bound("liquid oil")),
    windows=(wb.window("viscosity", 5.0, at=70.0, over="lipids"),),
    others=(wb.ratio("x", {"wax"}, {"oil"}, high=0.5),),
    choices=(wb.choice("all", at_most=2),),
    closeness=(wb.bound("ingredient", high=30.0, table="closeness"),),
)
PERCENTAGE = "write a percentage from 0 to 100"


def eased(**limits):
    return replace(
        ASKED,
        eased={name: (to, wb.toml(f"eased.{name}")) for name, to in limits.items()},
    )


@pytest.mark.parametrize(
    ("name", "limit", "wrong", "fix"),
    [
        ("practice/wax/max", 140.0, "'140' is more than 100 percent", PERCENTAGE),
        ("band/wax/min", -1.0, "'-1' is negative", PERCENTAGE),
        ("ratio/x/max", -1.0, "'-1' is less than 0", "write a number from 0 to 10000"),
        (
            "closeness/by ingredient",
            101.0,
            "'101' is more than 100 percent",
            PERCENTAGE,
        ),
        (
            "choice/all/max",
            1.5,
            "'1.5' is no whole number",
            "write how many, without a fraction",
        ),
        ("choice/all/max", 3.0, "'3' is more than 2", "write a number from 0 to 2"),
        (
            "window/viscosity/70 degC/lipids/min",
            0.0,
            "'0' is less than 1e-06",
            "write a number from 1e-06 to 1e+06",
        ),
    ],
)
def test_a_rule_is_given_no_limit_that_it_cannot_have(name, limit, wrong, fix):
    with pytest.raises(InputError) as caught:
        build(eased(**{name: limit}), KNOWN)
    said = f"test.toml, key eased.{name}: {wrong}.\n  To fix: {fix}."
    assert str(caught.value) == said


@pytest.mark.parametrize(
    ("name", "limit"),
    [
        ("practice/wax/max", 100.0),
        ("band/wax/min", 0.0),
        ("ratio/x/max", 1e4),
        ("closeness/by ingredient", 100.0),
        ("choice/all/max", 1.0),
        ("window/viscosity/70 degC/lipids/min", 1e-6),
    ],
)
def test_a_rule_is_given_a_limit_at_its_end(name, limit):
    rules = {each.id: each for each in build(eased(**{name: limit}), KNOWN).rules}
    assert rules[name].limit == limit


def test_a_kind_of_its_own_whose_limit_counts_takes_whole_numbers(monkeypatch):
    band = next(each for each in build(ASKED, KNOWN).rules if each.kind == "band")
    own = replace(band, id="own/rule", unit="pieces", ends=(2.0, 7.0), counts=True)
    monkeypatch.setitem(build.__globals__, "KINDS", (*KINDS, lambda _: [own]))
    with pytest.raises(InputError, match=r"key eased.own/rule: '3.5' is no whole"):
        build(eased(**{"own/rule": 3.5}), KNOWN)
    rules = build(eased(**{"own/rule": 3.0}), KNOWN).rules
    assert {each.id: each.limit for each in rules}["own/rule"] == 3.0
