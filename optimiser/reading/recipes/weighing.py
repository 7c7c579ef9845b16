"""Measures of every kind in grams, or in parts that weigh alike, with their doubt."""

from __future__ import annotations

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.recipe import Amount, KitchenMeasure, Match, Span
from optimiser.reading.recipes.knowledge import DROP, Knowledge

__all__ = ["MIXTURE", "Weighed", "Weigher", "better", "worst"]

ROOM = 20.0  # deg C; spoons are filled near it
LIQUID = {"liquid oil", "water", "humectant"}
# A US cup is 237 ml, a metric one 250, and few level their spoons (common practice).
HOUSEHOLD = Span(0.95, 1.0, 1.06)
WEIGHED = Span(0.95, 1.0, 1.05)  # printed weights are rounded
ROUGH = Span(0.9, 1.0, 1.1)  # "approximately" is give or take a tenth (common practice)
# Times what a level spoon or cup holds (common practice): what pours cannot be heaped.
FILLED = {
    "heaped": Span(1.5, 1.75, 2.0),
    "rounded": Span(1.2, 1.35, 1.5),
    "generous": Span(1.0, 1.1, 1.2),
    "scant": Span(0.85, 0.925, 1.0),
}
NOT_POURED = {"heaped", "rounded"}
MIXTURE = 0.92  # g/ml of a melted oil mixture, when something goes into a cup of it
_ORDER = ("as written", "converted", "assumed", "unknown")


def worst(*sure: str) -> str:
    """Return the least sure of some words.

    >>> worst("converted", "as written")
    'converted'
    """
    return max(sure, key=_ORDER.index)


def better(measure: KitchenMeasure) -> int:
    """Return the rank of a measure: weight before volume before drops."""
    return ("g", "ml", "drop").index(measure.unit)


def _grams(grams: float) -> str:
    """Return grams as a message tells them: whole from ten on, else two figures.

    >>> _grams(124.6), _grams(2.64)
    ('125', '2.6')
    """
    return f"{grams:.0f}" if grams >= 10.0 else f"{grams:.2g}"


class Weighed(Struct, frozen=True):
    """A weight in g with its doubt, from which measure, how sure, and how."""

    span: Span
    measure: KitchenMeasure
    sure: str
    how: str | None = None


class Weigher(Struct, frozen=True):
    """Turns measures into grams by what is known of volumes."""

    knowledge: Knowledge
    catalogue: Catalogue

    def density(self, match: Match) -> Span | None:
        """Return what a millilitre of it weighs as a spoon or cup is filled, [g/ml]."""
        volumes = self.knowledge.volumes
        key = match.options[0] if match.options else ""
        category = "hard butter" if match.category == "butters" else match.category
        places = [(key, match.form), (category or "", match.form)]
        found = next((volumes[p] for p in places if match.form and p in volumes), None)
        found = found or volumes.get((key, ""))
        if found is not None:
            return found.density
        if key and category in LIQUID:
            known = self.catalogue.figures.get("density", {}).get(key)
            if known:
                at = min(known, key=lambda at: abs((ROOM if at is None else at) - ROOM))
                each = known[at]
                return Span(each.low, each.value, each.high).times(1e-3)
        found = volumes.get((category or "", ""))
        return None if found is None else found.density

    def millilitres(self, measure: KitchenMeasure) -> Span | None:
        """Return the volume of a measure, [ml]; None if it is no volume."""
        if measure.unit == "drop":
            drop = self.knowledge.volumes.get((DROP, ""))
            return None if drop is None else measure.span.times(drop.density)
        if measure.unit != "ml":
            return None
        return measure.span.times(HOUSEHOLD) if measure.household else measure.span

    def drop_told(self) -> str:
        """Return how much a drop is taken for, with its doubt.

        Asked of what was weighed by drops, so that a row of volumes.csv tells it.
        """
        span = self.knowledge.volumes[DROP, ""].density
        return (
            f"a drop is taken as {span.value:g} ml ({span.low:g} to {span.high:g}, by"
            " the dropper): weigh twenty of yours and write grams where it matters"
        )

    def grams(self, measure: KitchenMeasure, match: Match) -> Weighed | None:
        """Return the weight of a measure; None if nothing tells it."""
        rough = ROUGH if measure.rough else 1.0
        if measure.unit == "g":
            return Weighed(measure.span.times(rough), measure, "as written")
        volume, density = self.millilitres(measure), self.density(match)
        if volume is None or density is None:
            return None
        flows = match.category in {*LIQUID, "scent"} or match.form == "melted"
        poured = flows and measure.filled in NOT_POURED
        times = 1.0 if poured else FILLED.get(measure.filled, 1.0)
        span = volume.times(density).times(rough).times(times)
        how = (
            f"{measure.said} is about {_grams(span.value)} g "
            f"({_grams(span.low)} to {_grams(span.high)})"
        )
        if poured:
            how += f"; {measure.filled} is taken as level"
        elif isinstance(times, Span):
            how += (
                f": {measure.filled} is taken as {times.low:g} to {times.high:g} times"
                " a level one"
            )
        return Weighed(span, measure, "converted", how)

    def best(self, amount: Amount, match: Match) -> Weighed | None:
        """Return the weight by the best measure that the amount gives."""
        weights = [each for each in amount.measures if each.unit in {"g", "ml", "drop"}]
        for each in sorted(weights, key=better) if weights[1:] else weights:
            found = self.grams(each, match)
            if found is not None:
                return found
        return None

    def disagreement(self, amount: Amount, match: Match) -> str | None:
        """Return how two measures of one line disagree, beyond their doubt; or None."""
        weights = [each for each in amount.measures if each.unit in {"g", "ml", "drop"}]
        if len(weights) < 2:
            return None
        best, *others = sorted(weights, key=better)
        known = self.grams(best, match)
        for other in others:
            found = self.grams(other, match)
            if known is None or found is None:
                continue
            span = known.span.times(WEIGHED) if best.unit == "g" else known.span
            if other.unit == "g":
                found = Weighed(found.span.times(WEIGHED), other, found.sure)
            if not span.meets(found.span):
                return (
                    f"gives {best.said} and {other.said}, which is about "
                    f"{_grams(found.span.value)} g ({_grams(found.span.low)} to "
                    f"{_grams(found.span.high)}): the two disagree"
                )
        return None
