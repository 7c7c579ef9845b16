"""Small cases of what random questions found, each as plain as it could be made."""

import pytest

from optimiser.domain.scenario import Aim
from optimiser.explaining import formulate
from optimiser.explaining.ways import _outward
from optimiser.explaining.why import why
from optimiser.presenting import as_text
from optimiser.presenting.why import why_page
from tests.presenting.shown import flat
from tests.rules import workbench as wb


def aims(answer):
    return {name: value for name, value, _ in answer.aims}


# What rounding lets the cost be over its least buys a trace of the base's own, which
# the change gains by: it is no second ingredient.
def test_a_trace_that_rounding_bought_is_not_counted():
    known = wb.catalogue(
        {"cheap": "liquid oil", "own": "liquid oil"},
        prices={"cheap": 10.0, "own": 10.2},
    )
    asked = wb.scenario(base={"own": 100.0}, aims=("cost", "change", "count"))
    answer = formulate(asked, known)
    assert wb.percent(answer) == {"cheap": pytest.approx(100.0)}
    assert aims(answer)["count"] == 1.0
    assert aims(answer)["change"] == pytest.approx(100.0, abs=1e-7)


# Of the two traces the ratio is about nothing that anybody could weigh, and the third
# is one that what must be bought gained by.
def test_a_ratio_of_two_traces_is_let_go_with_them():
    known = wb.catalogue(
        dict.fromkeys("abcegh", "liquid oil"),
        prices={"a": 2.14, "b": 54.86, "c": 10.0, "e": 11.25, "g": 14.0, "h": 50.5},
        stock=(("a", 0.1), ("b", 0.097), ("e", 0.5), ("h", 0.1)),
        limits=(wb.usage("g", "supplier", 0.0),),
    )
    asked = wb.scenario(
        batch_kg=0.4,
        base={"a": 38.0, "c": 42.0, "g": 20.0},
        limits=(wb.bound("b", 48.0, table="limits"),),
        others=(wb.ratio("x", {"h"}, {"c"}, low=0.92),),
        aims=("cost", "bought", "change"),
    )
    answer = formulate(asked, known)
    assert wb.percent(answer) == {"a": pytest.approx(52.0), "b": pytest.approx(48.0)}


# The least cost is that of one oil and what must be bought that of another: with this
# one kept nothing fits, whatever the other allows.
def test_a_curve_ends_where_the_choices_of_its_own_aim_leave_nothing():
    known = wb.catalogue(
        {"cheap": "liquid oil", "own": "liquid oil", "wax": "wax"},
        prices={"cheap": 1.0, "own": 1.5, "wax": 5.0},
        stock=(("own", 1.0),),
    )
    asked = wb.scenario(
        bands=(wb.bound("liquid oil"),),
        limits=(wb.bound("wax", high=0.0, table="limits"),),
        others=(wb.ratio("x", {"wax"}, {"own"}, low=0.0),),
        choices=(wb.choice("liquid oil", at_most=1),),
        aims=(Aim("cost", 1.0), "bought"),
    )
    reasons = why(asked, known)
    curve = next(each for each in reasons.curves if each.rule.id == "ratio/x/min")
    assert [each.high_end for each in curve.curves][1:] == ["no formula beyond"]
    shown = flat(as_text(why_page(reasons, full=True)))
    assert "up: no formula beyond" in shown.split("ratio/x/min")[1]


# What is exact is written with nine digits, and must not be short by a part of one.
@pytest.mark.parametrize(
    ("needed", "written"),
    [(50.28918065617948, 50.289180657), (39.71081934382, 39.710819343), (50.5, 50.5)],
)
def test_what_is_exact_is_eased_to_what_is_enough(needed, written):
    asked = wb.scenario(pins=(wb.pin("oil", 45.0),))
    known = wb.catalogue({"oil": "liquid oil"})
    rule = wb.rules_of(asked, known)["pin/oil"]
    assert _outward(rule, needed, 0.0) == written
