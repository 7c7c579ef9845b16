"""How full to fill: the least target that keeps the law of net content, and a verdict.

Fill weights of a steady hand are taken as normal. A batch keeps the law if three things
hold, and the chance that one of them fails is at most the sum of the chances that each
does (Boole's inequality), so that the target told is never too low by that.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from statistics import NormalDist, fmean, stdev

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.net_content import NetContent, Sampling

__all__ = [
    "CONFIDENCE",
    "STEP",
    "Chances",
    "Check",
    "Spread",
    "Target",
    "accepted_of",
    "check",
    "least_fill",
    "looked_at",
    "spread_of",
    "target",
]

CONFIDENCE = 0.95  # where nobody asks for another
STEP = 0.1  # g, of a fill
LEAST_LOOKED_AT = 10  # Canada: a share of the lot, but at least so many
_NORMAL = NormalDist()


class Spread(Struct, frozen=True):
    """How much fills vary, g: as measured, and the most it may well be.

    ``of`` is how many were weighed; None where the maker states the figure.
    """

    measured: float
    most: float
    of: int | None = None


class Chances(Struct, frozen=True):
    """The chance that a batch fails by its mean, by short packs, by one far short."""

    mean: float
    short: float
    beyond: float

    @property
    def fails(self) -> float:
        """A bound on the chance that any of the three fails."""
        return min(1.0, self.mean + self.short + self.beyond)


class Target(Struct, frozen=True):
    """The least fill that keeps one market's law at a confidence.

    Attributes
    ----------
    fill : float or None
        What to fill to, g, in steps of the scale; with what is lost until it is sold.
        None where no fill up to twice the content would do.
    at_sale : float or None
        What is left of it when sold.
    tolerance, far : float or None
        What a pack may lack, and what none may lack, g.
    accepted : int
        Packs of the batch, or of the sample, that may lack more than the tolerance.
    decides : str
        Which of the three asks for most: mean, short, or beyond.
    """

    market: str
    nominal: float
    packs: int
    fill: float | None
    at_sale: float | None
    tolerance: float | None
    far: float | None
    accepted: int
    decides: str
    chances: Chances | None
    instruments: tuple[str, ...]
    reads: tuple[str, ...]


class Check(Struct, frozen=True):
    """What the law of one market says of packs that were weighed, g.

    ``short`` and ``far`` are places of packs that lack more than the tolerance, and
    more than any may. ``label`` is the largest whole number of grams that these packs
    could be sold as; ``without_far`` whether the rest keeps it once ``far`` are taken
    out. ``more`` is how many are still to be weighed before anything is known.
    """

    market: str
    nominal: float
    batch: int
    weighed: int
    mean: float
    deviation: float
    least_mean: float
    tolerance: float | None
    most_short: float | None
    accepted: int
    short: tuple[int, ...]
    far: tuple[int, ...]
    far_accepted: int
    more: int
    label: int | None
    without_far: bool
    instruments: tuple[str, ...]
    reads: tuple[str, ...]

    @property
    def mean_kept(self) -> bool:
        """Whether the mean is not below what it must be."""
        return self.mean >= self.least_mean - ROUNDING

    @property
    def kept(self) -> bool:
        """Whether every rule is kept by the packs weighed; unknown before `more`."""
        few = len(self.short) <= self.accepted and len(self.far) <= self.far_accepted
        return self.more == 0 and self.tolerance is not None and self.mean_kept and few


ROUNDING = 1e-9
EXACT = 1000  # packs looked at, up to which every way to choose some is counted


def spread_of(weights: Sequence[float]) -> Spread:
    """Return the spread of weighed fills, g, and its upper end at 95 %.

    Notes
    -----
    Source: the chi-square interval of a variance, its quantile by Wilson and Hilferty,
    The distribution of chi-square, PNAS 17:684, 1931 (within 2 % from 5 packs on).
    """
    freedom = len(weights) - 1
    measured = stdev(weights)
    cubed = 1 - 2 / (9 * freedom) + _NORMAL.inv_cdf(0.05) * math.sqrt(2 / (9 * freedom))
    return Spread(measured, measured / max(cubed, 0.05) ** 1.5, len(weights))


def looked_at(rules: NetContent, packs: int) -> tuple[int, Sampling | None]:
    """Return how many packs of a batch are looked at, and by which row."""
    row = rules.sampling(packs)
    if row is None:
        return packs, None
    if row.share is not None:
        return min(packs, max(LEAST_LOOKED_AT, math.ceil(row.share / 100 * packs))), row
    return min(packs, row.sample or packs), row


def accepted_of(rules: NetContent, sample: int, row: Sampling | None) -> int:
    """Return how many packs looked at may lack more than the tolerance."""
    for over, up_to, accepted in rules.defects:
        if over <= sample <= up_to:
            return accepted
    if row is not None and row.accept is not None:
        return row.accept
    # Every pack is looked at: then the share of all packs counts.
    return math.floor((rules.short_share or 0.0) / 100.0 * sample + ROUNDING)


def target(
    rules: NetContent,
    nominal: float,
    packs: int,
    spread: float,
    *,
    confidence: float = CONFIDENCE,
    lost_percent: float = 0.0,
    step: float = STEP,
) -> Target:
    """Return the least fill of a batch that keeps a market's law, g.

    Parameters
    ----------
    nominal : float
        Net content on the label, g.
    packs : int
        Packs in the batch.
    spread : float
        Standard deviation of the fills, g.
    confidence : float
        Chance that the batch keeps every rule, at least.
    lost_percent : float
        What a pack loses until it is sold.
    step : float
        What the scale shows, g: the fill is a whole number of steps.

    Notes
    -----
    The mean is held to the nominal content itself. What an inspector's sample is
    allowed by chance is not used up beforehand.
    """
    tolerance = rules.tolerance(nominal)
    sample, row = looked_at(rules, packs)
    accepted = accepted_of(rules, sample, row)
    far = _far(rules, tolerance)

    def chances(fill: float) -> Chances:
        return _chances(rules, nominal, fill, spread, packs, sample, row, accepted)

    lowest = _least(lambda fill: 1.0 - chances(fill).fails >= confidence, nominal)
    fill = None
    if lowest is not None:
        filled = lowest / (1.0 - lost_percent / 100.0)
        fill = round(math.ceil(round(filled / step, 6)) * step, 6)
    at_sale = None if fill is None else fill * (1.0 - lost_percent / 100.0)
    met = None if lowest is None else chances(lowest)
    return Target(
        market=rules.market,
        nominal=nominal,
        packs=packs,
        fill=fill,
        at_sale=at_sale,
        tolerance=tolerance,
        far=far,
        accepted=accepted,
        decides="" if met is None else _greatest(met),
        chances=None if at_sale is None else chances(at_sale),
        instruments=rules.instruments,
        reads=rules.reads,
    )


def least_fill(targets: Iterable[Target]) -> float | None:
    """Return the least fill that keeps the law of every market that covers it, g.

    None where none covers so much, or no fill would do.
    """
    covered = [each.fill for each in targets if each.tolerance is not None]
    fills = [fill for fill in covered if fill is not None]
    return max(fills) if fills and len(fills) == len(covered) else None


def _far(rules: NetContent, tolerance: float | None) -> float | None:
    """Return what no pack may lack, g."""
    if tolerance is None or rules.beyond is None:
        return None
    return rules.beyond * tolerance


def _greatest(met: Chances) -> str:
    named = {"mean": met.mean, "short": met.short, "beyond": met.beyond}
    return max(named, key=lambda name: named[name])


def _least(good: Callable[[float], bool], nominal: float) -> float | None:
    """Return the least fill from the nominal content on that is good, by halving."""
    low, high = nominal, 2.0 * nominal
    if good(low):
        return low
    if not good(high):
        return None
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (low, middle) if good(middle) else (middle, high)
    return high


def _chances(  # noqa: PLR0913, PLR0917 - what a batch is judged by
    rules: NetContent,
    nominal: float,
    fill: float,
    spread: float,
    packs: int,
    sample: int,
    row: Sampling | None,
    accepted: int,
) -> Chances:
    tolerance = rules.tolerance(nominal)
    if spread <= 0.0:
        return Chances(0.0 if fill >= nominal - ROUNDING else 1.0, 0.0, 0.0)
    mean = _NORMAL.cdf((nominal - fill) / (spread / math.sqrt(packs)))
    if tolerance is None:
        return Chances(mean, 0.0, 0.0)
    light = _NORMAL.cdf((nominal - tolerance - fill) / spread)
    short = 1.0 - _accepted_chance(light, sample, row, accepted)
    beyond = 0.0
    if rules.beyond is not None:
        far = _NORMAL.cdf((nominal - rules.beyond * tolerance - fill) / spread)
        beyond = 1.0 - _at_most(rules.beyond_accepted, packs, far)
    if rules.beyond == 1.0:  # the same packs: counted once
        short = 0.0
    return Chances(mean, short, beyond)


def _accepted_chance(
    light: float, sample: int, row: Sampling | None, accepted: int
) -> float:
    """Return the chance that a plan accepts, where each pack is light by a chance."""
    first = _at_most(accepted, sample, light)
    if row is None or row.second is None or row.accept_both is None:
        return first
    second = row.second
    for found in range(accepted + 1, row.accept_both + 1):
        here = _exactly(found, sample, light)
        first += here * _at_most(row.accept_both - found, second, light)
    return min(1.0, first)


def _exactly(found: int, of: int, chance: float) -> float:
    if of <= EXACT or chance in {0.0, 1.0}:
        ways = math.comb(of, found) if 0.0 < chance < 1.0 else 1
        return ways * chance**found * (1.0 - chance) ** (of - found)
    ways_log = math.lgamma(of + 1) - math.lgamma(found + 1)
    ways_log -= math.lgamma(of - found + 1)
    rest = (of - found) * math.log1p(-chance)
    return math.exp(ways_log + found * math.log(chance) + rest)


def _at_most(found: int, of: int, chance: float) -> float:
    return math.fsum(_exactly(each, of, chance) for each in range(min(found, of) + 1))


def check(
    rules: NetContent, nominal: float, weights: Sequence[float], batch: int
) -> Check:
    """Return what a market's law says of weighed packs, g.

    Parameters
    ----------
    weights : sequence of float
        Net contents, g, of all packs of the batch or of some.
    batch : int
        Packs in the batch.

    Notes
    -----
    Where all packs are weighed, the plain mean counts. Where a sample is, the mean may
    be short by the row's factor times the standard deviation.
    """
    found = _judged(rules, nominal, weights, batch)
    kept = [w for n, w in enumerate(weights) if n not in set(found.far)]
    rest = batch - len(found.far)
    without = (
        bool(found.far) and len(kept) > 1 and _judged(rules, nominal, kept, rest).kept
    )
    label = next(
        (
            grams
            for grams in range(math.floor(min(fmean(weights), 2 * nominal)), 0, -1)
            if _judged(rules, float(grams), weights, batch).kept
        ),
        None,
    )
    return replace(found, label=label, without_far=without)


def _judged(
    rules: NetContent, nominal: float, weights: Sequence[float], batch: int
) -> Check:
    tolerance = rules.tolerance(nominal)
    needed, row = looked_at(rules, batch)
    weighed = len(weights)
    whole = weighed >= batch
    looked = weighed if whole else needed
    deviation = stdev(weights) if weighed > 1 else 0.0
    factor = 0.0
    if not whole:
        listed = rules.factors.get(weighed, rules.factors.get(needed))
        own = row.factor if row is not None else None
        factor = listed if listed is not None else own or 0.0
    accepted = (
        accepted_of(rules, weighed, None if rules.short_share else row)
        if whole
        else accepted_of(rules, looked, row)
    )
    far = _far(rules, tolerance)
    second = row.second if row is not None and not whole else None
    short = _below(weights, None if tolerance is None else nominal - tolerance)
    if second and accepted < len(short) <= (row.accept_both or 0):  # type: ignore[union-attr]
        needed += second
        accepted = row.accept_both or 0  # type: ignore[union-attr]
    return Check(
        market=rules.market,
        nominal=nominal,
        batch=batch,
        weighed=weighed,
        mean=fmean(weights),
        deviation=deviation,
        least_mean=nominal - factor * deviation,
        tolerance=tolerance,
        most_short=far,
        accepted=accepted,
        short=short,
        far=_below(weights, None if far is None else nominal - far),
        far_accepted=rules.beyond_accepted,
        more=max(0, min(needed, batch) - weighed),
        label=None,
        without_far=False,
        instruments=rules.instruments,
        reads=rules.reads,
    )


def _below(weights: Sequence[float], least: float | None) -> tuple[int, ...]:
    if least is None:
        return ()
    return tuple(n for n, each in enumerate(weights) if each < least - ROUNDING)
