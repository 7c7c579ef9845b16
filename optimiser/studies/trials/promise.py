"""What seeing some bars would leave in doubt, from the verdicts themselves."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from statistics import NormalDist

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats, Indices
from optimiser.science.algebra import need_room
from optimiser.science.design import below

__all__ = ["Lots", "Sight", "settled"]

LEAST_CHANCE = 1e-12
PASSES = 6  # at the most
GAIN = 1e-4  # of what is told: a change that gains less is none
MAIN = 0.98  # of what is aimed at; the rest is left out of the search
# Where a reading is cut to be counted as a verdict: standard deviations of it.
CUTS = (-1.0, 0.0, 1.0)


class Sight(Struct, frozen=True, eq=False):
    """One thing that will be seen of a bar.

    ``middle`` is the figure behind it by the published ones, ``row`` how far one step
    of each curve moves it. With ``reads`` the figure itself is read, else whether it
    is felt below ``low``, between, or above ``high``; ``noise`` is the standard
    deviation of either.
    """

    middle: float
    row: Floats
    low: float
    high: float
    noise: float
    reads: bool

    def at(self, steps: Floats) -> Floats:
        """Return the figure with the curves moved by steps, one lot a row."""
        return np.asarray(self.middle + steps @ self.row)

    def chances(self, steps: Floats) -> Floats:
        """Return the chances of too soft, right and too hard, one lot a row."""
        return self._between(steps, (self.low, self.high))

    def outcomes(self, steps: Floats) -> Floats:
        """Return the chances of each verdict, or of a reading in each of four parts."""
        if not self.reads:
            return self.chances(steps)
        wide = math.hypot(self.noise, float(np.sqrt(self.row @ self.row)))
        return self._between(steps, [self.middle + cut * wide for cut in CUTS])

    def _between(self, steps: Floats, bounds: Sequence[float]) -> Floats:
        at = self.at(steps)
        under = [np.zeros(len(at)), *(below(b, at, self.noise) for b in bounds)]
        return np.diff(np.stack([*under, np.ones(len(at))], axis=1), axis=1)


class Lots:
    """Lots of what the curves may truly be, drawn from their published spreads.

    Each curve's step is normal with a standard deviation of one, as calibration takes
    it. The first ``truths`` lots stand for the truth in turn: what would then be seen
    is drawn, and all other lots are weighed by how well they explain it. So the doubt
    left is that after verdicts, not after readings that nobody makes. Source:
    preposterior analysis, Raiffa and Schlaifer, Applied Statistical Decision Theory,
    1961; the weighing is importance sampling from the prior.
    """

    def __init__(self, along: Floats, *, lots: int, truths: int, seed: int) -> None:
        """Draw lots, evenly along a prediction: how far each step moves it."""
        random = np.random.default_rng(seed)
        self.truths = _drawn(along, truths, random)
        self.steps = _drawn(along, lots, random)

    def logs(self, seen: Sequence[Sight], place: int) -> Floats:
        """Return how well each lot (column) explains what each truth (row) shows.

        As the logarithm of its chance; ``place`` is the bar's among the others, which
        has luck of its own.
        """
        random = np.random.default_rng((7, place))
        logs = np.zeros((len(self.truths), len(self.steps)))
        for each in seen:
            if each.reads:
                noise = each.noise * random.standard_normal(len(self.truths))
                told = each.at(self.truths) + noise
                off = told[:, None] - each.at(self.steps)
                off /= each.noise
                off *= off
                off *= 0.5
                logs -= off
                continue
            felt = each.chances(self.truths).cumsum(axis=1)
            verdicts = (random.random((len(self.truths), 1)) > felt[:, :2]).sum(axis=1)
            chances = np.maximum(each.chances(self.steps), LEAST_CHANCE)
            logs += np.log(chances).T[verdicts]
        return logs

    def table(self, seen: Sequence[Sight]) -> Floats:
        """Return the chance in each lot (row) of each outcome of one bar."""
        return _together([each.outcomes(self.steps) for each in seen])

    def explained(self, seen: Sequence[Sight], table: Floats, place: int) -> Floats:
        """Return the chance in each lot (column) of what each truth (row) shows."""
        random = np.random.default_rng((7, place))
        chances = _together([each.outcomes(self.truths) for each in seen])
        luck = random.random((len(self.truths), 1))
        drawn = (luck > chances.cumsum(axis=1)[:, :-1]).sum(axis=1)
        return np.asarray(np.maximum(table.T[drawn], LEAST_CHANCE))

    def left(self, bars: Sequence[Sequence[Sight]], rows: Floats) -> Floats:
        """Return the standard deviation left of each prediction, as is to be expected.

        Parameters
        ----------
        bars : sequence
            What will be seen of each bar.
        rows : array, shape (t, p)
            How far one step of each curve moves each prediction.
        """
        told = self.steps @ rows.T
        logs = sum(self.logs(seen, place) for place, seen in enumerate(bars))
        return np.asarray(np.sqrt(_variance(np.asarray(logs), told).mean(axis=0)))

    def after(self, each: Sight, row: Floats) -> tuple[Floats, Floats]:
        """Return the chance of each verdict, and how far a prediction then moves."""
        chances = each.chances(self.steps)
        told = self.steps @ row
        total = chances.sum(axis=0)
        moved = (chances * told[:, None]).sum(axis=0) / np.maximum(total, LEAST_CHANCE)
        return total / len(self.steps), moved


def _drawn(along: Floats, count: int, random: np.random.Generator) -> Floats:
    """Return normal lots, one a row, of which the part along a row is spread evenly."""
    found = random.standard_normal((count, along.size))
    unit = along / np.sqrt(along @ along)
    normal = NormalDist().inv_cdf
    even = np.array([normal((n + 0.5) / count) for n in range(count)])
    return np.asarray(found + np.outer(random.permutation(even) - found @ unit, unit))


def _together(parts: Sequence[Floats]) -> Floats:
    """Return the chances of every outcome of several things seen at once."""
    found = parts[0]
    for each in parts[1:]:
        found = (found[:, :, None] * each[:, None, :]).reshape(len(found), -1)
    return found


def _variance(logs: Floats, told: Floats) -> Floats:
    """Return the variance of predictions (columns) after each truth (row)."""
    weights = np.exp(logs - logs.max(axis=1, keepdims=True))
    weights /= weights.sum(axis=1, keepdims=True)
    middle = weights @ told
    return np.asarray(np.maximum(weights @ told**2 - middle**2, 0.0))


def settled(
    lots: Lots,
    chosen: Sequence[int],
    *,
    seen: Sequence[Sequence[Sight]],
    alike: Indices,
    towards: Floats,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[int, ...]:
    """Return a design with bars changed for others that tell more by their verdicts.

    Mean information counts two bars that are felt alike twice; verdicts do not, for
    the second mostly repeats the first. In turn each bar is changed for the best of
    all others, until none gains: then no bar alone could be changed for a better one.

    Parameters
    ----------
    seen : sequence
        What would be seen of each candidate.
    alike : array of int
        The formula of each candidate; none is chosen twice.
    towards : array, shape (p, p)
        As in `science.design.exchange`.

    Notes
    -----
    The other bars' verdicts are drawn for each truth; those of the bar in question are
    summed over, each by its chance after the others. As a mean never moves on learning
    more, least is left where the squares of what is then expected are greatest.
    """
    told = lots.steps @ _main(towards)
    tables = [lots.table(each) for each in seen]
    deep = max(table.shape[1] for table in tables)
    wide = np.zeros((len(lots.steps), len(seen), deep), dtype=np.float32)
    for number, table in enumerate(tables):
        wide[:, number, : table.shape[1]] = table
    wide = wide.reshape(len(lots.steps), -1)
    found = list(chosen)
    drawn = [lots.explained(seen[n], tables[n], at) for at, n in enumerate(found)]
    value = -math.inf
    for number in range(PASSES * len(found)):
        place = number % len(found)
        rest = [n for at, n in enumerate(found) if at != place]
        others = np.ones((len(lots.truths), len(lots.steps)))
        for at, each in enumerate(drawn):
            if at != place:
                others *= each
        worth = _worth(others, told, wide).reshape(len(seen), deep).sum(axis=1)
        worth[np.isin(alike, alike[rest])] = -math.inf
        best = int(worth.argmax())
        if worth[best] > (1.0 + GAIN) * worth[found[place]]:
            found[place] = best
            drawn[place] = lots.explained(seen[best], tables[best], place)
            value = number
        if progress is not None:
            progress(number + 1, PASSES * len(found))
        if number - value >= len(found):
            break
    return tuple(found)


def _main(towards: Floats) -> Floats:
    """Return the few predictions that make up nearly all of ``towards``, as columns."""
    need_room()
    values, vectors = np.linalg.eigh(towards)
    order = np.argsort(-values)
    share = np.cumsum(values[order]) / values.sum()
    kept = order[: int(np.searchsorted(share, MAIN)) + 1]
    return np.asarray(vectors[:, kept] * np.sqrt(values[kept]))


def _worth(others: Floats, told: Floats, wide: Floats) -> Floats:
    """Return by outcome the sum of squares of what is then expected of predictions.

    Parameters
    ----------
    others : array, shape (t, l)
        How well each lot explains what was drawn of the other bars for each truth.
    told : array, shape (l, k)
        The predictions in each lot.
    wide : array, shape (l, o)
        The chance in each lot of each outcome of each candidate.
    """
    weights = others / others.sum(axis=1, keepdims=True)
    chance = np.maximum(weights.astype(np.float32) @ wide, LEAST_CHANCE)
    total = np.zeros(wide.shape[1])
    for each in told.T:
        middle = (weights * each).astype(np.float32) @ wide
        total += (middle**2 / chance).sum(axis=0)
    return total
