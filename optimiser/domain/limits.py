"""Between what a rule's limit means something, whatever the formula."""

from __future__ import annotations

import math

import numpy as np

from optimiser.domain.arrays import Floats
from optimiser.domain.rule import Rule

__all__ = ["natural"]


def natural(rule: Rule) -> tuple[float, float]:
    """Return the least and the greatest limit that mean something, in its unit.

    A sum of amounts is never below nothing, unless a figure in it is: a difference of
    HLB may be, or a property that a catalogue knows below zero. (A rule that moves
    with a window has slopes in its row, not figures, and is read as the window is; the
    exponential of a sum is always above nothing.) In percent the greatest is 100, but
    for a share of something that it is no part of.
    """
    figures = rule.amounts.coefficients
    read = rule.moves_with is None and not rule.logarithmic
    low = -math.inf if read and np.any(figures < 0.0) else 0.0
    part = rule.unit == "%" and np.all(figures <= (100.0 + 1e-9) * _below(rule))
    return low, 100.0 if part else math.inf


def _below(rule: Rule) -> Floats:
    """Return what 1 % of each column above the line counts below it.

    A constant counts for all amounts alike, for they add up to 100 %.
    """
    per = dict(zip(rule.per.columns, rule.per.coefficients, strict=True))
    columns = rule.amounts.columns
    return np.array([per.get(each, 0.0) for each in columns]) + (
        rule.per_constant / 100.0
    )
