"""Ratios between ingredients, and an assessor's envelope."""

import pytest

from optimiser.domain.scenario import Envelope, EnvelopeList
from optimiser.errors import InputError
from optimiser.explaining import Clash, formulate
from optimiser.explaining.why import why_rule
from tests.rules import workbench as wb

KNOWN = wb.catalogue(
    {"oil": "liquid oil", "cocoa": "hard butter", "wax": "wax", "plant_wax": "wax"},
    prices={"oil": 5.0, "cocoa": 20.0, "wax": 18.0, "plant_wax": 12.0},
)
EVERY = frozenset(KNOWN.ingredients)


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ({"oil": 80.0, "wax": 16.0, "plant_wax": 4.0}, 0.25),
        ({"oil": 80.0, "wax": 20.0}, 0.0),
        ({"oil": 80.0, "plant_wax": 20.0}, None),  # of nothing there is no part
    ],
)
def test_a_ratio_is_so_much_of_one_for_each_part_of_another(formula, value):
    asked = wb.scenario(
        others=(wb.ratio("plant to bee", {"plant_wax"}, {"wax"}, None, 0.25),)
    )
    rule = wb.rules_of(asked, KNOWN)["ratio/plant to bee/max"]
    assert rule.sentence == "plant to bee: at most 0.25 to 1"
    found, slack = wb.values(asked, KNOWN, formula)[rule.id]
    assert found == (None if value is None else pytest.approx(value))
    assert slack == (None if value is None else pytest.approx(0.25 - value))


def test_a_ratio_holds_although_its_second_side_could_be_nothing():
    asked = wb.scenario(
        bands=(wb.bound("wax", 10.0), wb.bound("liquid oil")),
        others=(wb.ratio("plant to bee", {"plant_wax"}, {"wax"}, None, 0.25),),
    )
    # Plant wax (12) is cheaper: 2 parts of it with 8 of beeswax are 0.25 to 1.
    assert wb.best(asked, KNOWN) == pytest.approx(
        {"oil": 90.0, "wax": 8.0, "plant_wax": 2.0}
    )


def test_sides_of_a_ratio_may_be_several_ingredients_together():
    asked = wb.scenario(
        only=EVERY,
        others=(wb.ratio("waxes to oil", {"wax", "plant_wax"}, {"oil"}, 0.25),),
    )
    assert wb.best(asked, KNOWN) == pytest.approx({"oil": 80.0, "plant_wax": 20.0})


ENVELOPE = Envelope(
    "lip care, assessed",
    (
        EnvelopeList(
            "fats",
            80.0,
            100.0,
            {"oil": 70.0, "cocoa": 100.0},
            wb.toml("lists[1]"),
        ),
        EnvelopeList("waxes", None, 15.0, {"wax": 10.0}, wb.toml("lists[2]")),
    ),
    wb.toml("title"),
)


def test_an_envelope_caps_members_and_lists_and_shuts_everything_else_out():
    asked = wb.scenario(only=EVERY, envelope=ENVELOPE)
    rules = wb.rules_of(asked, KNOWN)
    assert {
        r.id: (r.side, r.limit) for r in rules.values() if r.kind == "envelope"
    } == {
        "envelope/fats/min": ("min", 80.0),
        "envelope/fats/max": ("max", 100.0),
        "envelope/fats/oil": ("max", 70.0),
        "envelope/waxes/max": ("max", 15.0),
        "envelope/waxes/wax": ("max", 10.0),
        "envelope/outside": ("max", 0.0),
    }
    assert all(r.owner == "assessor" for r in rules.values() if r.kind == "envelope")
    # Plant wax (12) is cheaper than beeswax (18) but outside.
    assert wb.best(asked, KNOWN) == pytest.approx(
        {"oil": 70.0, "cocoa": 20.0, "wax": 10.0}
    )
    assert wb.broken({"oil": 60.0, "cocoa": 30.0, "plant_wax": 10.0}, asked, KNOWN) == [
        "envelope/outside"
    ]


def test_an_envelope_is_never_eased():
    asked = wb.scenario(
        only=EVERY, envelope=ENVELOPE, bands=(wb.bound("wax", 12.0), wb.bound("fats"))
    )
    clash = formulate(asked, KNOWN)
    assert isinstance(clash, Clash)
    assert {(rule.id, rule.may_ease) for rule in clash.rules} == {
        ("band/wax/min", True),
        ("envelope/waxes/wax", False),
        ("envelope/outside", False),
    }


def test_a_curve_is_not_asked_for_to_where_no_ratio_is():
    asked = wb.scenario(
        bands=(wb.bound("wax"), wb.bound("liquid oil")),
        others=(wb.ratio("wax to oil", {"wax"}, {"oil"}, 0.25),),
    )
    known = wb.catalogue({"wax": "wax", "oil": "liquid oil"})
    for span in ({"high": 20000.0}, {"low": -1.0}):
        with pytest.raises(InputError, match="no limit that this rule could have"):
            why_rule(asked, known, "ratio/wax to oil/min", **span)
    assert why_rule(asked, known, "ratio/wax to oil/min", high=2.0).priced
