"""What steps of the amounts cost is told beside what it is compared with."""

from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from optimiser.explaining.answer import StepsTaken
from optimiser.presenting.answer import _costs, _steps


@pytest.mark.parametrize(
    ("cost", "told"),
    [(10.36, "0.36 EUR/kg dearer"), (9.64, "0.36 EUR/kg cheaper")],
)
def test_what_steps_cost_is_told_beside_what_it_is_compared_with(cost, told):
    steps = StepsTaken(0.5, {}, True, "beeswax", None, (("change", 0.0, "%"),), 10.0)
    answer = SimpleNamespace(cost_per_kg=cost, currency="EUR")
    assert _steps(steps, answer).endswith(f": {told} than without.")


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
