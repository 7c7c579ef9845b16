"""Every optimum is proved before it is shown: rules recomputed, a bound found.

Comparisons say what is good enough, so that what is no number (NaN) never is.
"""

from __future__ import annotations

import numpy as np

from optimiser.domain.arrays import Floats
from optimiser.domain.rule import Programme
from optimiser.errors import ProofError
from optimiser.solving.arrays import Arrays

__all__ = ["GAP_TOLERANCE", "duality_gap", "worst_violation"]

# Relative to the limit or to one unit, whichever is larger. The solver keeps rows to
# 1e-7; amounts are percentages, so this is far below what any scale can show.
RULE_TOLERANCE = 1e-6
GAP_TOLERANCE = 1e-6
# What a row of a share is to that share where what it is of comes to nothing.
OF_NOTHING = 100.0


def worst_violation(programme: Programme, arrays: Arrays, amounts: Floats) -> float:
    """Return by how much the worst rule is broken, in its own unit; 0 if none is.

    Raises
    ------
    ProofError
        If a rule, a link or a bound is broken by more than rounding.
    """
    worst = 0.0
    activity = arrays.activity(amounts)
    broken = np.maximum(arrays.row_lower - activity, activity - arrays.row_upper)
    for rule, excess in zip(programme.rules, broken.tolist(), strict=False):
        slack = rule.slack(amounts)
        if slack is None:  # a share of nothing, of which there may be none
            slack = -excess / OF_NOTHING
        if slack >= 0.0:
            continue
        worst = max(worst, -slack)
        if not -slack <= RULE_TOLERANCE * max(1.0, abs(rule.limit)):
            raise ProofError(
                f"the answer breaks '{rule.sentence}' by {-slack:g} {rule.unit}"
            )
    size = 1.0 + np.abs(amounts).max(initial=0.0)
    outside = np.maximum(arrays.lower - amounts, amounts - arrays.upper)
    for off in (broken[len(programme.rules) :], outside):
        if off.size and not off.max() <= RULE_TOLERANCE * size:
            raise ProofError("the answer breaks a definition of the model")
    return worst


def duality_gap(
    arrays: Arrays,
    costs: Floats,
    amounts: Floats,
    prices: Floats,
    held: tuple[Floats, Floats, Floats] | None = None,
) -> Floats:
    """Return the relative gap between an answer and a bound that no answer beats.

    For one answer, or for many of the same rules at once: then costs, amounts and
    prices have a row an answer, and so has what is returned.

    Parameters
    ----------
    costs : array, one number a column
        The goal.
    amounts : array, one number a column
    prices : array, one number a row
        The solver's prices; only their use here is trusted, not the solver.
    held : (rows, tops, prices), optional
        Earlier goals held at their tops: dense rows, tops, and prices.

    Returns
    -------
    float array
        ``(cost - bound) / max(1, |cost|)``, infinite where the prices prove nothing.

    Notes
    -----
    Source: weak duality. Any prices of the right sign give a bound:
    each row is worth its price times its bound, and each column its reduced cost
    times the bound that its sign picks.
    """
    reduced = costs - arrays.transposed(prices)
    bound = _worth(prices, arrays.row_lower, arrays.row_upper)
    if held is not None:
        rows, tops, held_prices = held
        reduced = reduced - held_prices @ rows
        bound = bound + _worth(held_prices, np.full(tops.size, -np.inf), tops)
    bound = bound + _worth(reduced, arrays.lower, arrays.upper)
    cost = (costs * amounts).sum(axis=-1)
    gap: Floats = np.abs(cost - bound) / np.maximum(1.0, np.abs(cost))
    return gap


def _worth(prices: Floats, lower: Floats, upper: Floats) -> Floats:
    """Return the sum of prices times the bound each sign picks, along the last axis."""
    sizes = np.abs(prices)
    small = sizes <= 1e-9 * np.maximum(1.0, sizes.max(-1, initial=0.0, keepdims=True))
    picked = np.where(prices > 0.0, lower, upper)
    endless = np.isinf(picked)
    sums = (prices * np.where(endless, 0.0, picked)).sum(axis=-1)
    worth: Floats = np.where((endless & ~small).any(axis=-1), -np.inf, sums)
    return worth
