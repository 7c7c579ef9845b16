"""A window on firmness from verdicts: what was right lies inside, the rest outside."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median_low

import numpy as np
from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.properties import PROPERTIES
from optimiser.domain.scenario import Scenario
from optimiser.domain.trial import Trial
from optimiser.rules import part_amounts
from optimiser.science.mixing import blend_value
from optimiser.studies.calibration.observations import as_the_base

__all__ = ["Proposal", "proposed"]

OVER = "lipids"
FEWEST = 3
# A limit stays so near to what was found right, in points: nobody looked farther.
NEAR = 5.0


class Proposal(Struct, frozen=True):
    """A window on firmness that verdicts speak for, by the published figures.

    ``met`` of the ``verdicts`` agree with it to 5 points; ``replaces`` says that the
    scenario has one already. ``soft`` and ``hard`` say whether a bar was found so: a
    side without is no more than the last bar that was right.
    """

    low: float
    high: float
    at: float
    over: str
    met: int
    verdicts: int
    soft: bool
    hard: bool
    replaces: bool


def proposed(
    trials: Sequence[Trial],
    scenario: Scenario,
    catalogue: Catalogue,
    *,
    at: float | None = None,
    over: str | None = None,
) -> Proposal | None:
    """Return the window that verdicts speak for; None of too few, or at odds.

    Parameters
    ----------
    at, over : float, str, optional
        Of the window that it would replace.

    Notes
    -----
    A limit lies where the squared misses of the verdicts on its two sides are least,
    in the middle of the gap where they part cleanly, and no more than 5 points from
    what was right. A verdict by thumb stays a bound: only its side counts.
    """
    told = [
        (trial.verdict, value)
        for trial in trials
        if trial.verdict is not None
        and (value := _firmness(trial, scenario, catalogue, over or OVER)) is not None
    ]
    soft, right, hard = (
        [value for verdict, value in told if verdict == each]
        for each in ("too soft", "right", "too hard")
    )
    if len(told) < FEWEST or not right:
        return None
    low, high = min(right) - NEAR, max(right) + NEAR
    if soft:
        low = max(_between(soft, [*right, *hard]), low)
    if hard:
        high = min(_between([*soft, *right], hard), high)
    low, high = float(max(0, round(low))), float(round(high))
    if low >= high:
        return None
    met = sum(value <= low + NEAR for value in soft)
    met += sum(low - NEAR <= value <= high + NEAR for value in right)
    met += sum(value >= high - NEAR for value in hard)
    rooms = [trial.room for trial in trials if trial.room is not None]
    return Proposal(
        low=low,
        high=high,
        at=median_low(rooms) if at is None else at,
        over=over or OVER,
        met=met,
        verdicts=len(told),
        soft=bool(soft),
        hard=bool(hard),
        replaces=at is not None,
    )


def _firmness(
    trial: Trial, scenario: Scenario, catalogue: Catalogue, over: str
) -> float | None:
    """Return what the published figures say of a bar where it was judged.

    As firm as lipids would have to be to feel so with the base's grains.
    """
    if trial.room is None:
        return None
    part = part_amounts(scenario, catalogue, dict(trial.formula), over)
    value = blend_value(PROPERTIES["firmness"], part, trial.room, catalogue).value
    times = as_the_base(trial.formula, scenario, catalogue)
    return None if value is None else value * times


def _between(below: Sequence[float], above: Sequence[float]) -> float:
    """Return the limit that parts two lots best.

    >>> _between([10.0, 20.0], [40.0, 50.0])
    30.0
    """
    least, most = max(below), min(above)
    if least < most:
        return (least + most) / 2.0
    tried = np.linspace(most, least, 201)
    under = np.maximum(np.array(below)[:, None] - tried, 0.0)
    over = np.maximum(tried - np.array(above)[:, None], 0.0)
    return float(tried[((under**2).sum(axis=0) + (over**2).sum(axis=0)).argmin()])
