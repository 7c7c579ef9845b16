"""What is unknown may belong to any part: more than a little of it stops a window."""

import numpy as np
import pytest

from optimiser.domain.material import CATEGORIES, PARTS, UNKNOWN
from optimiser.domain.unknown import FEW, in_part, left_aside, unjudged
from optimiser.rules import part_amounts
from optimiser.studies.measures import measure, measures
from tests.rules import workbench as wb

KNOWN = wb.catalogue(
    {"butter": "hard butter", "oil": "liquid oil", "zorvex": UNKNOWN},
    figures={"solid fat": {"butter": {30.0: 60.0}, "oil": {30.0: 0.0}}},
)
FIRM = wb.window("solid fat", 10.0, at=30.0, over="lipids")
WITH = {"butter": 50.0, "oil": 50.0 - FEW / 2.0, "zorvex": FEW / 2.0}
MUCH = {"butter": 50.0, "oil": 50.0 - FEW, "zorvex": FEW}


def asked(base, **more):
    return wb.scenario(base=base, windows=(FIRM,), parts=dict(PARTS), **more)


def lacking(base, **more):
    rules = wb.rules_of(asked(base, **more), KNOWN)
    return rules["window/solid fat/30 degC/lipids/min"].lacking


def test_a_part_has_what_is_unknown_in_it_from_so_much_on():
    assert set(part_amounts(asked(WITH), KNOWN, WITH, "lipids")) == {"butter", "oil"}
    assert set(part_amounts(asked(MUCH), KNOWN, MUCH, "lipids")) == set(MUCH)
    assert in_part(MUCH, KNOWN, "lipids") == MUCH
    assert "zorvex" not in in_part(WITH, KNOWN, "lipids")
    assert (left_aside(WITH, KNOWN), unjudged(WITH, KNOWN)) == ({"zorvex": 1.0}, {})
    assert (left_aside(MUCH, KNOWN), unjudged(MUCH, KNOWN)) == ({}, {"zorvex": 2.0})


@pytest.mark.parametrize("part", ["butter", "own"])
def test_a_part_of_named_ingredients_has_nothing_unknown_in_it(part):
    scenario = wb.scenario(base=MUCH, parts={**PARTS, "own": ("butter", "oil")})
    assert "zorvex" not in part_amounts(scenario, KNOWN, MUCH, part)


def test_a_window_lacks_a_figure_of_what_is_unknown_unless_it_is_little():
    assert lacking(WITH) == ()
    assert [each.column for each in lacking(MUCH)] == [2]


@pytest.mark.parametrize(
    "more",
    [
        {"pins": (wb.pin("zorvex", FEW),)},
        {"bands": (wb.bound("zorvex", 0.0, FEW),)},
        {"limits": (wb.bound("zorvex", 0.5, None),)},
        {"bands": (wb.bound(UNKNOWN, 0.0, FEW),)},
    ],
)
def test_what_is_asked_for_counts_and_not_only_what_the_base_has(more):
    assert [each.column for each in lacking(WITH, **more)] == [2]


def test_what_is_unknown_stays_as_it_is_in_the_base_like_a_small_dose():
    rules = wb.rules_of(wb.scenario(base=MUCH), KNOWN)
    assert rules["minor/zorvex"].side == "exact"
    assert rules["minor/zorvex"].limit == FEW


def test_many_formulas_at_once_are_read_as_one_is():
    (found, *_) = measures(tuple(KNOWN.ingredients), asked(WITH), KNOWN)
    rows = np.array([[50.0, 49.0, 1.0], [50.0, 48.0, 2.0]])
    first, second = measure(found, rows)
    assert first == pytest.approx(60.0 * 50.0 / 99.0)
    assert np.isnan(second)


def test_the_unknown_is_a_category_of_no_part_but_the_whole():
    assert UNKNOWN in CATEGORIES
    assert [part for part, held in PARTS.items() if UNKNOWN in held] == ["product"]
