"""What steps of the amounts cost is told beside what it is compared with."""

from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from optimiser.explaining.answer import StepsTaken
from optimiser.presenting.answer import _costs, _steps

# Aims as they are in steps, and what is told: cost where cost is asked for, the first
# aim that steps leave more of, and nothing of what is no aim.
CHANGE, COST = ("change", 0.5, "points"), ("cost", 10.36, "EUR/kg")


@pytest.mark.parametrize(
    ("aims", "without", "told"),
    [
        ([COST], [10.0], "In steps of 0.5 %: 0.36 EUR/kg dearer than without."),
        ([COST], [10.36], "In steps of 0.5 %."),
        (
            [CHANGE, COST],
            [0.2, 11.0],
            "In steps of 0.5 %: 0.3 points more change from the base than without.",
        ),
        ([CHANGE], [0.5], "In steps of 0.5 %."),
        ([COST, CHANGE], [11.0, 0.2], "In steps of 0.5 %."),
    ],
)
def test_what_steps_cost_is_told_in_what_was_asked_for(aims, without, told):
    before = tuple(
        (name, value, unit)
        for (name, _, unit), value in zip(aims, without, strict=True)
    )
    steps = StepsTaken(0.5, {}, True, None, None, before, 15.0)
    answer = SimpleNamespace(aims=tuple(aims), cost_per_kg=10.36, currency="EUR")
    assert _steps(steps, answer) == told


@pytest.mark.parametrize(
    ("aims", "said"),
    [
        ((("category change", 0.0, "points"), ("change", 0.0, "points")), True),
        ((("category change", 0.0, "points"), ("cost", 9.0, "EUR/kg")), False),
    ],
)
def test_a_base_is_told_to_be_in_no_steps_only_where_they_alone_move_it(
    answer, aims, said
):
    steps = StepsTaken(0.5, {}, True, "beeswax", None, aims, 10.0)
    told = " ".join(_costs(replace(answer, steps=steps, base_keeps=True)))
    assert "Your base keeps every rule" in told
    assert ("is not in steps of 0.5 %" in told) is said
