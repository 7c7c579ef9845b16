"""A batch sheet: what is weighed, when, at what temperature, for so many units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.domain.bench import Bench
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.caution import CautionLine
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem
from optimiser.explaining import Clash, clash_of
from optimiser.explaining.answering import NoFormula, answer
from optimiser.explaining.cautions import at_the_bench, cautions
from optimiser.explaining.overstepped import Overstepped, overstepped
from optimiser.rules.structure import unfirm
from optimiser.science.melting import Kitchen, solids
from optimiser.studies.stock import Take, takes
from optimiser.workshop.density import Density, mix_density
from optimiser.workshop.pouring import Pouring, pouring_advice
from optimiser.workshop.sizes import Size, SizeAsked, size_of
from optimiser.workshop.small_lines import SmallLine, least_weighed, small_lines
from optimiser.workshop.stages import STAGES
from optimiser.workshop.weighing import WeighedLine, Weighing, weigh

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["STAGES", "BatchSheet", "FromLots", "batch_sheet"]

DUST = 1e-9  # kg


class FromLots(Struct, frozen=True):
    """From which lots an ingredient is taken, oldest first, and kg that lack.

    ``known`` is False where the shelf tells of no lot of it.
    """

    takes: tuple[Take, ...] = ()
    lacking_kg: float = 0.0
    known: bool = False


class BatchSheet(Struct, frozen=True):
    """What is weighed and done; ``stages`` are ingredient keys by stage.

    ``least`` is the least that a scale should weigh by its step, kg; ``invented_lots``
    tells how many lots on the shelf are: "all" or "some"; ``unfirm`` names what
    keeps its firmness from being judged; ``over`` are limits of others that the amounts
    keep only as they are eased.
    """

    title: str
    file: str
    use: str
    markets: tuple[str, ...]
    size: Size
    weighing: Weighing
    names: Mapping[str, str]
    stages: Mapping[str, tuple[str, ...]]
    lots: Mapping[str, FromLots]
    least: Mapping[float, float]
    small: tuple[SmallLine, ...]
    density: Density
    pouring: Pouring
    cautions: tuple[CautionLine, ...]
    invented_lots: str | None = None
    unfirm: tuple[str, ...] = ()
    over: tuple[Overstepped, ...] = ()

    @property
    def volume(self) -> tuple[float, float, float]:
        """Least, usual and greatest volume of the batch, m^3."""
        kg, found = self.weighing.batch_kg, self.density
        return kg / found.high, kg / found.value, kg / found.low

    @property
    def line(self) -> Mapping[str, WeighedLine]:
        """What is weighed, by ingredient key."""
        return {each.ingredient: each for each in self.weighing.lines}


def batch_sheet(
    scenario: Scenario,
    catalogue: Catalogue,
    bench: Bench,
    asked: SizeAsked,
    *,
    density: float | None = None,
    readability: float | None = None,
) -> BatchSheet | Clash:
    """Return the batch sheet of a scenario's answer, or why there is no formula.

    Parameters
    ----------
    bench : Bench
        The workshop's scale, moulds and usual losses.
    asked : SizeAsked
        How much is made.
    density : float, optional
        What the maker measured of the mix, [kg/m^3].
    readability : float, optional
        Another scale than the workshop's for all, [kg]: it should weigh as many of its
        steps at least.

    Raises
    ------
    InputError
        If the scale is not known, or what is asked makes no sense.
    """
    step = bench.scale.readability if readability is None else readability
    fine = bench.fine if readability is None else None
    if step is None:
        wrong = "is not known"
        fix = 'write it into scale.toml of the workshop: [scale] readability = "0.1 g"'
        raise InputError([Problem(wrong, field="scale.readability", fix=fix)])
    solved = answer(scenario, catalogue, beside=True)
    if isinstance(solved, NoFormula):
        return clash_of(solved, catalogue)
    mix = (
        mix_density(solved.amounts, catalogue)
        if density is None
        else Density.of(density)
    )
    size = size_of(asked, bench, mix, scenario.batch_kg)
    weighing = weigh(solved, size.kg, step, fine=fine, may_grow=not size.exact)
    least = _least(bench, step)
    percents = {x.ingredient: x.percent for x in weighing.lines} or solved.amounts
    pouring = _pouring(percents, catalogue, scenario.title)
    return BatchSheet(
        title=scenario.title,
        file=scenario.file,
        use=scenario.use,
        markets=scenario.markets,
        size=size,
        weighing=weighing,
        names={key: catalogue.ingredients[key].name for key in percents},
        stages=pouring.stages,
        lots=_lots(weighing, catalogue),
        least=least,
        small=small_lines(weighing, least, catalogue),
        density=mix,
        pouring=pouring,
        cautions=_cautions(percents, scenario, catalogue),
        invented_lots=catalogue.invented_lots,
        unfirm=unfirm(percents, scenario, catalogue),
        over=overstepped(percents, scenario, catalogue),
    )


def _least(bench: Bench, step: float) -> dict[float, float]:
    """Return the least to weigh by the step of a scale.

    Of another scale than the usual one so many steps as of that.
    """
    usual, least = bench.scale.readability, bench.scale.smallest
    if usual is not None and least is not None and step != usual:
        least = least / usual * step
    fine = bench.fine
    found = {} if fine is None else {fine.readability: fine}
    return {
        **{s: least_weighed(s, each.smallest) for s, each in found.items()},
        step: least_weighed(step, least),
    }


def _cautions(
    percents: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> tuple[CautionLine, ...]:
    """Return what to mind at the bench, then what the product calls for besides."""
    found: dict[str, CautionLine] = {}
    for each in at_the_bench(percents, catalogue):
        found[each.key] = each
    for each in cautions(percents, scenario, catalogue):
        found.setdefault(each.key, each)
    return tuple(found.values())


def _pouring(
    percents: Mapping[str, float], catalogue: Catalogue, title: str
) -> Pouring:
    def solids_at(at: NDArray[np.float64]) -> NDArray[np.float64]:
        return solids(percents, at, catalogue)

    unknown = Kitchen(tuple(percents), catalogue).unknown
    left_out = tuple(catalogue.ingredients[key].name for key in unknown)
    return pouring_advice(
        percents, catalogue, solids_at, title=title, left_out=left_out
    )


def _lots(weighing: Weighing, catalogue: Catalogue) -> dict[str, FromLots]:
    """Return from which lots each ingredient is taken, the first to expire first."""
    percents = {each.ingredient: each.percent for each in weighing.lines}
    taken = takes(percents, weighing.batch_kg, catalogue)
    found = {}
    for line in weighing.lines:
        own = [each for each in taken if each.ingredient == line.ingredient]
        lacking = line.kg - sum(each.kg for each in own)
        found[line.ingredient] = FromLots(
            tuple(each for each in own if each.kg > DUST),
            lacking if lacking > DUST else 0.0,
            bool(own),
        )
    return found
