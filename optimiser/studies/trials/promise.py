"""What seeing some bars would leave in doubt, from the verdicts themselves."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats, Indices
from optimiser.science.design import below

__all__ = ["Lots", "Sight", "settled"]

LEAST_CHANCE = 1e-12
PASSES = 1
TRIES, LEAST_TRIES = 120, 20  # others looked at in a pass
GAIN = 1e-3  # of the doubt: a change that gains less is none


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
        at = self.at(steps)
        soft, short = (below(b, at, self.noise) for b in (self.low, self.high))
        return np.stack([soft, short - soft, 1.0 - short], axis=1)


class Lots:
    """Lots of what the curves may truly be, drawn from their published spreads.

    Each curve's step is normal with a standard deviation of one, as calibration takes
    it. The first ``truths`` lots stand for the truth in turn: what would then be seen
    is drawn, and all other lots are weighed by how well they explain it. So the doubt
    left is that after verdicts, not after readings that nobody makes. Source:
    preposterior analysis, Raiffa and Schlaifer, Applied Statistical Decision Theory,
    1961; the weighing is importance sampling from the prior.
    """

    def __init__(self, columns: int, *, lots: int, truths: int, seed: int) -> None:
        random = np.random.default_rng(seed)
        self.truths = random.standard_normal((truths, columns))
        self.steps = random.standard_normal((lots, columns))

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
                off = (told[:, None] - each.at(self.steps)) / each.noise
                logs -= 0.5 * off**2
                continue
            felt = each.chances(self.truths).cumsum(axis=1)
            verdicts = (random.random((len(self.truths), 1)) > felt[:, :2]).sum(axis=1)
            chances = np.maximum(each.chances(self.steps), LEAST_CHANCE)
            logs += np.log(chances).T[verdicts]
        return logs

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
    random: np.random.Generator,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[int, ...]:
    """Return a design with bars changed for others that tell more by their verdicts.

    Mean information counts two bars that are felt alike twice; verdicts do not, for
    the second mostly repeats the first. In turn each bar is changed for the best of
    some others drawn by lot, as long as the doubt expected shrinks.

    Parameters
    ----------
    seen : sequence
        What would be seen of each candidate.
    alike : array of int
        The formula of each candidate; none is chosen twice.
    towards : array, shape (p, p)
        As in `science.design.exchange`.
    """
    values, vectors = np.linalg.eigh(towards)
    kept = values > 1e-9 * values.max()
    told = lots.steps @ (vectors[:, kept] * np.sqrt(values[kept]))
    found = list(chosen)
    logs = [lots.logs(seen[n], place) for place, n in enumerate(found)]
    value = float(_variance(np.sum(logs, axis=0), told).mean(axis=0).sum())
    tries = max(LEAST_TRIES, TRIES // len(found))
    for number in range(PASSES * len(found)):
        place = number % len(found)
        rest = [n for at, n in enumerate(found) if at != place]
        others = np.sum([x for at, x in enumerate(logs) if at != place], axis=0)
        free = np.flatnonzero(~np.isin(alike, alike[rest]))
        for other in random.choice(free, min(tries, free.size), replace=False):
            own = lots.logs(seen[other], place)
            now = float(_variance(others + own, told).mean(axis=0).sum())
            if now < value * (1.0 - GAIN):
                value, found[place], logs[place] = now, int(other), own
        if progress is not None:
            progress(number + 1, PASSES * len(found))
    return tuple(found)
