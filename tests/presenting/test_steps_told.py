"""What steps of the amounts cost is told beside what it is compared with."""

from types import SimpleNamespace

import pytest

from optimiser.explaining.answer import StepsTaken
from optimiser.presenting.answer import _steps


@pytest.mark.parametrize(
    ("cost", "told"),
    [(10.36, "0.36 EUR/kg dearer"), (9.64, "0.36 EUR/kg cheaper")],
)
def test_what_steps_cost_is_told_beside_what_it_is_compared_with(cost, told):
    steps = StepsTaken(0.5, {}, True, "beeswax", None, (("change", 0.0, "%"),), 10.0)
    answer = SimpleNamespace(cost_per_kg=cost, currency="EUR")
    assert _steps(steps, answer).endswith(f": {told} than without.")
