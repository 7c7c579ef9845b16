"""One month of the food plan, from its published figures, by another solver."""

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

__all__ = ["best_profit"]


def best_profit(model, month):
    """The most profit of one month bought, blended and sold, in pounds.

    Columns: tonnes of VEG1, VEG2, OIL1, OIL2 and OIL3, and whether each is used.
    """
    oils = model["oils"]
    hardness = np.array([model["hardness"][oil] for oil in oils])
    gains = model["sale_price"] - np.array(model["price"][month])
    low, high = model["hardness_window"]
    none, one = np.zeros(5), np.eye(5)
    rows = [
        (np.r_[1, 1, 0, 0, 0, none], -np.inf, model["veg_cap"]),
        (np.r_[0, 0, 1, 1, 1, none], -np.inf, model["nonveg_cap"]),
        (np.r_[hardness - high, none], -np.inf, 0),
        (np.r_[hardness - low, none], 0, np.inf),
    ]
    if "max_oils_per_month" in model:
        rows.append((np.r_[none, np.ones(5)], 0, model["max_oils_per_month"]))
        for i in range(5):
            rows.append((np.r_[one[i], -250 * one[i]], -np.inf, 0))
            least = model["min_use_if_used"]
            rows.append((np.r_[one[i], -least * one[i]], 0, np.inf))
        rows += [  # a vegetable oil is used only where OIL3 is
            (np.r_[none, one[veg] - one[4]], -np.inf, 0) for veg in (0, 1)
        ]
    matrix, lower, upper = (np.array(each) for each in zip(*rows, strict=True))
    found = milp(
        np.r_[-gains, none],
        constraints=LinearConstraint(matrix, lower, upper),
        bounds=Bounds(0, np.r_[np.full(5, np.inf), np.ones(5)]),
        integrality=np.r_[none, np.ones(5)],
    )
    assert found.status == 0
    return -found.fun
