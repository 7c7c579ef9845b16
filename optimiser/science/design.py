"""Which observations to make next: exchange over candidates, and what a verdict tells.

Only numpy, and only arrays: nothing here knows of formulas. A candidate is a small
block of rows, one a reading, each divided by the standard deviation of its reading; it
adds ``rows.T @ rows`` to the information on the coefficients.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats, Indices

__all__ = ["Design", "below", "exchange", "information", "leaving", "verdict_weight"]

ROUNDS = 50
GAIN = 1e-9  # of the criterion: an exchange that gains less is none
# Gauss and Hermite's points for an average over a normal spread.
POINTS = 9
LEAST_CHANCE = 1e-12
_erf = np.frompyfunc(math.erf, 1, 1)


class Design(Struct, frozen=True):
    """Numbers of the candidates chosen, and the criterion they come to.

    ``value`` is the log of the determinant of the information, or the trace that is
    left of ``towards``, as `exchange` was asked.
    """

    chosen: tuple[int, ...]
    value: float


def below(bound: Floats | float, middle: Floats, spread: Floats | float) -> Floats:
    """Return the chance that a normal lot lies below a bound.

    >>> float(below(0.0, np.array([0.0]), 1.0)[0])
    0.5
    """
    steps = (bound - middle) / (spread * math.sqrt(2.0))
    return 0.5 * (1.0 + np.asarray(_erf(steps), dtype=np.float64))


def verdict_weight(
    middle: Floats, spread: Floats, low: float, high: float, noise: float
) -> Floats:
    """Return what verdicts tell of the figure behind them, as 1 / variance.

    A verdict is "too soft", "right" or "too hard": whether the figure, as the maker
    feels it, lies below ``low``, between, or above ``high``.

    Parameters
    ----------
    middle, spread : array, shape (n,)
        What is expected of the figure of each, and the standard deviation of that.
    low, high : float
        Infinite for a side that nothing is said of.
    noise : float
        Standard deviation of what is felt about the figure.

    Notes
    -----
    Fisher's information of an ordered verdict with a normal error (the ordered probit
    model), ``sum((dp/dz)^2 / p)``, averaged over what is expected of the figure. At
    most 1 / noise^2, what a reading would tell; about two thirds of it with the figure
    at a limit, next to nothing far from both. A design is weighed by it only to be
    found: what it promises is worked out from the verdicts themselves
    (`optimiser.studies.trials.promise`). Sources: McCullagh, J. R. Stat. Soc. B 42:109,
    1980; averaging over the prior, Chaloner and Verdinelli, Statistical Science 10:273,
    1995.
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(POINTS)
    at = middle[:, None] + spread[:, None] * nodes
    soft, short = below(low, at, noise), below(high, at, noise)
    first, second = (
        np.exp(-0.5 * ((bound - at) / noise) ** 2) / (noise * math.sqrt(2.0 * math.pi))
        for bound in (low, high)
    )
    told = np.zeros_like(at)
    for chance, slope in (
        (soft, first),
        (short - soft, second - first),
        (1.0 - short, second),
    ):
        told += slope**2 / np.maximum(chance, LEAST_CHANCE)
    return np.asarray(told @ weights / weights.sum(), dtype=np.float64)


def information(rows: Floats, chosen: Sequence[int], prior: Floats) -> Floats:
    """Return the information of some candidates and of what was known before."""
    picked = rows[list(chosen)].reshape(-1, rows.shape[-1])
    return np.asarray(prior + picked.T @ picked, dtype=np.float64)


def leaving(
    rows: Floats, chosen: Sequence[int], prior: Floats, towards: Floats
) -> float:
    """Return the trace of ``towards`` times the variance that a design leaves."""
    return float(np.trace(np.linalg.solve(information(rows, chosen, prior), towards)))


def exchange(  # noqa: PLR0913 - a question of its own in each
    rows: Floats,
    count: int,
    prior: Floats,
    *,
    towards: Floats | None = None,
    alike: Indices | None = None,
    starts: int = 8,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> Design:
    """Return the candidates that together tell most.

    Parameters
    ----------
    rows : array, shape (n, r, p)
        Each candidate's readings, zeros where it has fewer than others.
    prior : array, shape (p, p)
        Information before any candidate; positive definite.
    towards : array, shape (p, p), optional
        Given, the trace of it times the variance left is made small (V-optimal: it is
        the sum of ``t t'`` over the predictions ``t`` that matter); else the
        determinant of the information is made great (D-optimal).
    alike : array of int, shape (n,), optional
        No two candidates of one number are chosen; without, the same one may be chosen
        again.
    starts : int
        Random designs that are begun from; the best that comes of them is returned.

    Notes
    -----
    In turn each candidate chosen is changed for the one that gains most, until none
    does: the exact design is a local best, not proved the best there is. Sources:
    Fedorov, Theory of Optimal Experiments, 1972; Cook and Nachtsheim, Technometrics
    22:315, 1980; with a prior, Chaloner and Verdinelli, Statistical Science 10:273,
    1995.

    >>> ends = np.array([[[1.0, x]] for x in (-1.0, -0.5, 0.0, 0.5, 1.0)])
    >>> sorted(exchange(ends, 2, 1e-9 * np.eye(2)).chosen)
    [0, 4]
    """
    random = np.random.default_rng(seed)
    best: Design | None = None
    for start in range(starts):
        chosen = _drawn(random, len(rows), count, alike)
        found = _settled(rows, chosen, prior, towards, alike)
        if best is None or _better(found.value, best.value, towards):
            best = found
        if progress is not None:
            progress(start + 1, starts)
    if best is None:
        raise ValueError("no start was asked for")
    return best


def _drawn(
    random: np.random.Generator, size: int, count: int, alike: Indices | None
) -> list[int]:
    """Return a random design to begin from."""
    if alike is None:
        return [int(each) for each in random.integers(size, size=count)]
    return [
        int(random.choice(np.flatnonzero(alike == group)))
        for group in random.permutation(np.unique(alike))[:count]
    ]


def _settled(
    rows: Floats,
    chosen: list[int],
    prior: Floats,
    towards: Floats | None,
    alike: Indices | None,
) -> Design:
    value = _value(rows, chosen, prior, towards)
    for _ in range(ROUNDS):
        before = value
        for place in range(len(chosen)):
            rest = chosen[:place] + chosen[place + 1 :]
            values = _with_each(rows, information(rows, rest, prior), towards)
            if alike is not None:
                taken = np.isin(alike, alike[rest])
                values[taken] = np.inf if towards is not None else -np.inf
            other = int(values.argmax() if towards is None else values.argmin())
            if _better(float(values[other]), value, towards):
                chosen[place], value = other, float(values[other])
        if not _better(value, before, towards):
            break
    return Design(tuple(chosen), _value(rows, chosen, prior, towards))


def _better(one: float, other: float, towards: Floats | None) -> bool:
    gain = one - other if towards is None else other - one
    return gain > GAIN * max(1.0, abs(other))


def _value(
    rows: Floats, chosen: Sequence[int], prior: Floats, towards: Floats | None
) -> float:
    if towards is not None:
        return leaving(rows, chosen, prior, towards)
    return float(np.linalg.slogdet(information(rows, chosen, prior))[1])


def _with_each(rows: Floats, known: Floats, towards: Floats | None) -> Floats:
    """Return the criterion with each candidate beside what is known already.

    By Woodbury's identity, so that nothing larger than a block is taken apart.
    """
    left = np.linalg.inv(known)
    seen = rows @ left
    block = seen @ rows.transpose(0, 2, 1) + np.eye(rows.shape[1])
    if towards is None:
        gained = np.linalg.slogdet(block)[1]
        return np.asarray(np.linalg.slogdet(known)[1] + gained, dtype=np.float64)
    taken = np.linalg.solve(block, seen @ towards @ seen.transpose(0, 2, 1))
    trace = np.trace(taken, axis1=1, axis2=2)
    return np.asarray(np.trace(left @ towards) - trace, dtype=np.float64)
