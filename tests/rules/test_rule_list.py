"""The whole list of rules: ids, origins and the linear form."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.scenario import Envelope, EnvelopeList, Exclusions
from optimiser.reading import read_scenario, shipped_folder
from optimiser.rules import build, complete
from optimiser.rules.build import numbered
from tests.rules import workbench as wb

KEYS = ("cocoa", "coconut", "oil", "wax", "sugar", "acid")
KNOWN = wb.catalogue(
    {
        "cocoa": "hard butter",
        "coconut": wb.ingredient("coconut", "soft butter", family="lauric"),
        "oil": "liquid oil",
        "wax": "wax",
        "sugar": "exfoliant",
        "acid": "preservative",
    },
    figures={
        "solid fat": {"cocoa": {25.0: 70.0}, "coconut": {25.0: 20.0}, "oil": {25.0: 0}},
        "wax firmness": {"wax": wb.figure(2.0, 1.0, 3.0, unit="")},
        "density": {
            "cocoa": 950.0,
            "coconut": 920.0,
            "oil": wb.figure(915.0, 905.0, 930.0),
            "wax": 960.0,
            "sugar": wb.figure(1590.0, 1500.0, 1650.0),
            "acid": 1200.0,
        },
        "viscosity": {"cocoa": 90.0, "coconut": 60.0, "oil": 40.0, "wax": 4000.0},
        "iodine value": {"cocoa": 35.0, "coconut": 9.0, "oil": 95.0},
    },
    contents={
        "sorbic acid": {"acid": wb.figure(90.0, 80.0, 99.0)},
        "limonene": {"oil": wb.figure(0.1, 0.0, 0.5)},
    },
    limits=[
        wb.usage("wax", "practice", 25, of="lipids"),
        wb.usage("coconut", "supplier", 40),
    ],
    allergens={
        "tree nut": {"coconut": wb.status("coconut", "tree nut", "delisted", EU=False)}
    },
    substance_limits=[wb.law("sorbic acid", 0.6, {"sorbic acid": 1.0})],
    shared_limits=[wb.shared("sun", {"limonene": 0.2, "sorbic acid": 5.0})],
    stock=[("oil", 0.3)],
)
# Every kind of rule there is, each side of it, over one formula.
ALL = wb.scenario(
    markets=("EU",),
    cautious=True,
    base={"cocoa": 40.0, "oil": 40.0, "wax": 20.0},
    only=frozenset(KEYS),
    parts={"pourable": ("lipids",)},
    bands=(
        wb.bound("hard butter", 10, 60),
        wb.bound("butters", 20, 70, of="lipids"),
        wb.bound("pourable", 30, 95),
    ),
    limits=(wb.bound("wax", 2, 20, table="limits"),),
    constituents=(wb.bound("sorbic acid", 0.1, 0.5, table="constituents"),),
    windows=(
        wb.window("solid fat", 10.0, 50.0, at=25.0, over="lipids"),
        wb.window("firmness", 20.0, 80.0, at=25.0, over="lipids"),
        wb.window("iodine value", 20.0, 80.0, over="fats"),
        wb.window("density", 920.0, 1200.0, at=20.0),
        wb.window("solids load", 2.0, 40.0, at=20.0),
        wb.window("viscosity", 30.0, 900.0, at=60.0, over="lipids"),
    ),
    others=(wb.ratio("wax to oil", {"wax"}, {"oil", "coconut"}, 0.05, 0.9),),
    exclude=Exclusions(
        allergens=("tree nut",),
        ingredients=("coconut",),
        categories=("powder",),
        vegan=True,
        palm_free=True,
    ),
    choices=(wb.choice("butters", 1, 2), wb.choice("all", 2, 5)),
    least_if_used={"default": (1.0, wb.toml("least_if_used.default"))},
    pins=(wb.pin("acid", 0.5),),
    closeness=(
        wb.bound("ingredient", None, 40.0, table="closeness"),
        wb.bound("category", None, 30.0, table="closeness"),
    ),
    stock_only=wb.toml("stock.only"),
    envelope=Envelope(
        "all",
        (EnvelopeList("fats", 50.0, 100.0, {"oil": 60.0}, wb.toml("lists[1]")),),
        wb.toml("title"),
    ),
)
PROGRAMME = build(ALL, KNOWN, KEYS)
KINDS = {
    "total",
    "band",
    "limit",
    "pin",
    "least",
    "practice",
    "supplier",
    "law",
    "share",
    "constituent",
    "window",
    "guard",
    "ratio",
    "exclusion",
    "near",
    "choice",
    "stock",
    "envelope",
    "closeness",
}


def test_the_scenario_below_has_every_kind_of_rule():
    assert {rule.kind for rule in PROGRAMME.rules} == KINDS


amounts = st.lists(
    st.floats(0.0, 100.0, allow_subnormal=False) | st.just(0.0),
    min_size=len(KEYS),
    max_size=len(KEYS),
)


@given(amounts=amounts)
def test_a_formula_has_room_under_a_rule_just_when_its_linear_row_holds(amounts):
    filled = complete(PROGRAMME, dict(zip(KEYS, amounts, strict=True)))
    for rule in PROGRAMME.rules:
        slack = rule.slack(filled)
        if slack is None:  # a share of nothing: the row then reads 0 >= 0
            continue
        row, limit = rule.linear(rule.limit)
        room = row.at(filled) - limit
        if rule.side == "max":
            room = -room
        elif rule.side == "exact":
            room = -abs(room)
        # Two ways to compute one number: near the line rounding may tell them apart.
        below = rule.per_constant + rule.per.at(filled)
        rounding = 1e-9 * (1.0 + abs(limit) + np.abs(row.coefficients).sum() * 100.0)
        if abs(room) <= rounding and room != 0.0:
            continue
        assert below > 0.0, rule.id
        kept = slack >= -1e-12 * max(1.0, abs(rule.limit))
        assert kept == (room >= 0.0), rule.id
        if not rule.logarithmic:
            assert room == pytest.approx(slack * below, abs=rounding), rule.id


@pytest.mark.parametrize(
    "rule", [r for r in PROGRAMME.rules if r.per_constant == 0.0], ids=lambda r: r.id
)
def test_a_share_of_nothing_leaves_its_linear_row_kept(rule):
    nothing = np.zeros(len(PROGRAMME.columns))
    row, limit = rule.linear(rule.limit)
    assert rule.value(nothing) is None
    assert row.at(nothing) == limit == 0.0


def test_two_windows_on_the_same_thing_are_two_rules():
    twice = wb.scenario(
        windows=(
            wb.window("iodine value", 20.0, over="fats"),
            wb.window("iodine value", 30.0, over="fats"),
        )
    )
    rules = wb.rules_of(twice, KNOWN)
    assert {r.id: r.limit for r in rules.values() if r.kind == "window"} == {
        "window/iodine value/fats/min": 20.0,
        "window/iodine value/fats/min (2)": 30.0,
    }


def with_id(own):
    return replace(PROGRAMME.rules[0], id=own)


def test_a_number_that_is_taken_already_is_passed_over():
    ids = ("a (2)", "a", "a", "b", "a", "a (2)", "a")
    assert [rule.id for rule in numbered(map(with_id, ids))] == [
        "a (2)", "a", "a (3)", "b", "a (4)", "a (2) (2)", "a (5)",
    ]  # fmt: skip


def test_numbers_are_given_without_trying_those_given_before():
    tried = []

    class Own(str):
        __slots__ = ()

        def __format__(self, how):
            tried.append(self)
            return super().__format__(how)

    rules = list(numbered(with_id(Own("a")) for _ in range(500)))
    assert len({rule.id for rule in rules}) == 500
    assert len(tried) < 3 * 500


SHIPPED = sorted(shipped_folder("scenarios").glob("*.toml"))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_rule_of_a_shipped_scenario_can_be_traced(path):
    scenario, catalogue = read_scenario(path)
    rules = build(scenario, catalogue).rules
    assert len({rule.id for rule in rules}) == len(rules) > 5
    for rule in rules:
        assert rule.sentence
        assert rule.origin.file
        # That the parts make the whole is written nowhere, and "nothing outside the
        # envelope" is the whole of its file.
        if rule.id not in {"total", "envelope/outside"}:
            assert rule.origin.field is not None or rule.origin.row is not None, rule.id
    # What a maker wrote is told by file and key, what a catalogue says by file and row.
    mine = [r for r in rules if r.owner == "wish"]
    told = [r for r in rules if r.owner in {"law", "supplier", "practice"}]
    assert all(rule.origin.file.endswith(".toml") for rule in mine)
    assert all(rule.origin.file.endswith(".csv") for rule in told)
    assert all(rule.origin.row and rule.source for rule in told)


def test_every_rule_of_every_kind_has_a_place_and_an_id_of_its_own():
    rules = PROGRAMME.rules
    assert len({rule.id for rule in rules}) == len(rules)
    placeless = {r.id for r in rules if not (r.origin.field or r.origin.row)}
    assert placeless == {"total"}


@pytest.mark.parametrize(
    ("kind", "side", "field"),
    [
        ("band/hard butter", "min", "bands.hard butter.min"),
        ("limit/wax", "max", "limits.wax.max"),
        ("constituent/sorbic acid", "max", "constituents.sorbic acid.max"),
        ("window/solids load/20 degC/product", "max", "windows[1].max"),
        ("ratio/wax to oil", "min", "ratios[1].min"),
        ("choice/butters", "max", "choices.butters.max"),
        ("pin/acid", None, "pins.acid"),
        ("closeness/by category", None, "closeness.category"),
        ("stock/nothing bought", None, "stock.only"),
        ("guard/lauric fats", "max", "guard.lauric.max"),
    ],
)
def test_a_rule_names_the_key_it_was_written_under(kind, side, field):
    wanted = kind if side is None else f"{kind}/{side}"
    (rule,) = [rule for rule in PROGRAMME.rules if rule.id == wanted]
    file = "built in" if field.startswith("guard.") else "test.toml"
    assert (rule.origin.file, rule.origin.field) == (file, field)
