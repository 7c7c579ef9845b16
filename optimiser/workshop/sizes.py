"""How much to make: from units, a mould or a batch to kg, with loss and overfill.

``batch = units * net * (1 + overfill) / (1 - loss)``. Where it is known how much fills
vary, the overfill is the least that keeps the law of net content, as `fill` tells it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from optimiser.domain.bench import Bench, Mould, to_make
from optimiser.domain.net_content import NetContent
from optimiser.errors import InputError, Option, Phrase, Problem, phrase
from optimiser.workshop.density import Density
from optimiser.workshop.filling import least_fill, target

__all__ = ["NET_OR_MOULD", "Size", "SizeAsked", "by_law", "size_of", "to_make"]

MOST_UNITS = 1_000_000
LEAST_NET, MOST_NET = 1e-4 * (1 - 1e-9), 1e3 * (1 + 1e-9)  # kg
LEAST_BATCH, MOST_BATCH = 1e-3 * (1 - 1e-9), 1e5 * (1 + 1e-9)  # kg
ROUNDING = 1e-9
NET_OR_MOULD = phrase(
    "add ",
    Option("net", '"60 g"'),
    ", or ",
    Option("mould"),
    " with a name of scale.toml",
)


class SizeAsked(Struct, frozen=True):
    """What a maker asks for; kg and percent, None for what was left open.

    ``content`` is the law of net content that fills have to keep.
    """

    units: int | None = None
    net_kg: float | None = None
    batch_kg: float | None = None
    mould: Mould | None = None
    loss: float | None = None
    overfill: float | None = None
    spread_kg: float | None = None
    content: tuple[NetContent, ...] = ()


class Size(Struct, frozen=True):
    """How much is made.

    ``kg`` is weighed in, ``exact`` if it was asked for as it is. ``net_kg`` is what a
    unit is to weigh, None where nobody said; ``by_volume`` if it is what a cavity
    holds, which has no overfill. ``loss`` and ``overfill`` in percent; ``spread`` is
    how much fills vary, kg, where the overfill follows from that and from the law.
    """

    kg: float
    exact: bool
    units: int | None
    net_kg: float | None
    mould: Mould | None
    loss: float
    overfill: float
    by_volume: bool = False
    spread: float | None = None

    @property
    def fill_kg(self) -> float | None:
        """What goes into one unit, kg."""
        return None if self.net_kg is None else self.net_kg * (1 + self.overfill / 100)


def size_of(asked: SizeAsked, bench: Bench, density: Density, usual_kg: float) -> Size:
    """Return how much to make.

    Parameters
    ----------
    density : Density
        Of the mix; for a mould of which only the volume is known.
    usual_kg : float
        The scenario's batch, where nothing else is asked.

    Raises
    ------
    InputError
        With everything that makes no sense together.
    """
    _check(asked)
    loss = _first(asked.loss, bench.loss)
    overfill, spread = _first(asked.overfill, bench.overfill), None
    mould, net = asked.mould, asked.net_kg
    by_volume = False
    if mould is not None and net is None:
        net = mould.net
        if net is None and mould.volume is not None:
            net, by_volume, overfill = mould.volume * density.value, True, 0.0
    units = asked.units
    if units is None and mould is not None and asked.batch_kg is None:
        units = mould.cavities
    if asked.overfill is None and net is not None and not by_volume:
        varies = bench.spread if asked.spread_kg is None else asked.spread_kg
        packs = units or math.floor(_batch_kg(asked, usual_kg) / net + ROUNDING)
        least = by_law(asked.content, net, packs, varies)
        if least is not None:
            overfill, spread = least, varies
    if units is not None and net is not None:
        kg, exact = to_make(units, net, loss=loss, overfill=overfill), False
    else:
        kg, exact = _batch_kg(asked, usual_kg), True
        if net is not None:
            one = to_make(1, net, loss=loss, overfill=overfill)
            units = math.floor(kg / one + ROUNDING)
    if not LEAST_BATCH <= kg <= MOST_BATCH:
        wrong = "is no batch: it is under 1 g, or over 100000 kg"
        fix = "check units and weights"
        problem = Problem(wrong, field="the batch", found=f"{kg:g} kg", fix=fix)
        raise InputError([problem])
    return Size(kg, exact, units, net, mould, loss, overfill, by_volume, spread)


def _batch_kg(asked: SizeAsked, usual_kg: float) -> float:
    return usual_kg if asked.batch_kg is None else asked.batch_kg


def by_law(
    content: Sequence[NetContent], net_kg: float, packs: int, spread_kg: float | None
) -> float | None:
    """Return the least overfill that keeps the law of net content, percent.

    None where it is not known how much fills vary, or no law covers such packs.
    """
    if spread_kg is None or packs < 1:
        return None
    net = 1e3 * net_kg
    fill = least_fill(target(each, net, packs, 1e3 * spread_kg) for each in content)
    return None if fill is None else max(0.0, 100.0 * (fill / net - 1.0))


def _first(asked: float | None, usual: float | None) -> float:
    """Return the percent asked for, or the workshop's, or none."""
    return next((each for each in (asked, usual) if each is not None), 0.0)


def _check(asked: SizeAsked) -> None:
    problems = []

    def say(option: str, found: object, wrong: str | Phrase, fix: str | Phrase) -> None:
        problems.append(Problem(wrong, field=option, found=f"{found}", fix=fix))

    if asked.units is not None:
        if not 1 <= asked.units <= MOST_UNITS:
            say("--units", asked.units, "is no count of units", "write how many")
        if asked.batch_kg is not None:
            fix = "leave one of them out: units and their weight make the batch"
            both = phrase("and ", Option("batch"), " are both given")
            say("--units", asked.units, both, fix)
        elif asked.net_kg is None and asked.mould is None:
            wrong = "says nothing of what a unit weighs"
            say("--units", asked.units, wrong, NET_OR_MOULD)
    if asked.net_kg is not None and not LEAST_NET <= asked.net_kg <= MOST_NET:
        fix = 'give one from 0.1 g to 1000 kg, as in "60 g"'
        say("--net", f"{asked.net_kg:g} kg", "is no weight of one unit", fix)
    for option, percent, most in (
        ("--loss", asked.loss, 90.0),
        ("--overfill", asked.overfill, 100.0),
    ):
        if percent is not None and not 0.0 <= percent < most:
            fix = f"give a percentage from 0 to below {most:g}"
            say(option, f"{percent:g}", "is not possible", fix)
    if problems:
        raise InputError(problems)
