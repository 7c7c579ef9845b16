"""How a part of the base is shared among ingredients, and what stands in.

What recipes name keeps the share that they give it, a choice is shared among the
options it names, and what they leave bare goes to the ingredient most often named.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from msgspec import Struct, field

from optimiser.domain.material import MINOR
from optimiser.reading.recipes.spellings import tokens
from optimiser.studies.survey.summaries import REACTING, members
from optimiser.studies.survey.usage import Usage
from optimiser.studies.survey.values import Recipe

__all__ = ["Shared", "share_out"]

# Of soap nothing is known here, and no other surfactant is like it.
SOAP = "soap"

MOST_OF_A_CATEGORY = 3  # ingredients of the base in one category
FEWER = {"wax": 2, "fatty alcohol": 2, "emulsifier": 2, "humectant": 2}
MOST_OF_A_KIND = 2
ONE = frozenset({*MINOR, "exfoliant"})  # of which a base holds one only
LEAST_OF_A_CATEGORY = 0.15  # share of what is named from which one is kept
FAR_BELOW = 0.4  # of a share: what is held or allowed at less cannot stand in for it
TRACE = 1e-9


class Shared(Struct):
    """A part shared out: weights that sum to 1 with what is left open, and stand-ins.

    ``standing`` is ingredient -> category -> weight; ``unpriced`` are ingredients
    that recipes name and that the workshop has no price for.
    """

    weights: dict[str, float] = field(default_factory=dict)
    standing: dict[str, dict[str, float]] = field(default_factory=dict)
    unpriced: set[str] = field(default_factory=set)
    left_open: dict[str, float] = field(default_factory=dict)

    def add(self, key: str, weight: float) -> None:
        """Give an ingredient some more."""
        self.weights[key] = self.weights.get(key, 0.0) + weight

    def stand_in(self, key: str, weight: float, category: str) -> None:
        """Give an ingredient some more because it stands in for a category."""
        self.add(key, weight)
        mine = self.standing.setdefault(key, {})
        mine[category] = mine.get(category, 0.0) + weight


class _Piece(Struct, frozen=True):
    """A line's weight in a part, and what it names there."""

    recipe: str
    weight: float
    category: str
    options: tuple[str, ...]
    soap: bool = False


def share_out(
    part: str, percent: float, recipes: Sequence[Recipe], usage: Usage
) -> Shared:
    """Return how a part of the base is shared: the mean over recipes that hold it.

    Of the ingredients named the few that matter are kept, for a base of twelve oils
    is nobody's recipe, and those that most recipes name, however little. The rest of
    what is named goes to the other options of its choice, or else to what is kept.

    Parameters
    ----------
    part : str
        A category, or "butters".
    percent : float
        What the base holds of it, percent of the product.
    recipes : sequence of Recipe
        Those that the base is made from.
    """
    found = Shared()
    pieces = _pieces(part, recipes, usage)
    kept = _kept(pieces, usage, found)
    loose: dict[str, float] = {}
    bare: dict[str, float] = {}
    for piece in pieces:
        options = [key for key in piece.options if key in kept]
        for key in options:
            found.add(key, piece.weight / len(options))
        if piece.soap and not piece.options:
            open_ = found.left_open
            open_[piece.category] = open_.get(piece.category, 0.0) + piece.weight
        elif not options:
            rest = loose if piece.options and kept else bare
            rest[piece.category] = rest.get(piece.category, 0.0) + piece.weight
    for category, weight in loose.items():
        _spread(category, weight, found, usage)
    for category, weight in bare.items():
        _stand_in(category, weight, percent, found, usage)
    return found


def _pieces(part: str, recipes: Sequence[Recipe], usage: Usage) -> list[_Piece]:
    """Return the lines of a part, all recipes that hold it weighing alike."""
    inside, known = members(part), usage.catalogue.ingredients
    held = [each for each in recipes if each.share(*inside).value > 0.0]
    return [
        _Piece(
            recipe.name,
            line.percent.value / recipe.share(*inside).value / len(held),
            line.category,
            tuple(key for key in line.match.usual if known[key].category in inside),
            SOAP in tokens(line.written.name),
        )
        for recipe in held
        for line in recipe.lines
        if line.percent is not None and line.category in inside
    ]


def _kept(pieces: Sequence[_Piece], usage: Usage, found: Shared) -> set[str]:
    """Return the named ingredients that the base keeps."""
    named: dict[str, float] = {}
    users: dict[str, set[str]] = {}
    for piece in pieces:
        for key in piece.options:
            if not usage.priced(key):
                found.unpriced.add(key)
                continue
            weight = piece.weight / len(piece.options)
            named[key] = named.get(key, 0.0) + weight
            users.setdefault(key, set()).add(piece.recipe)
    known = usage.catalogue.ingredients
    among = len({piece.recipe for piece in pieces})
    usual = {key for key, mine in users.items() if 2 * len(mine) > among}
    ranked = sorted(
        named,
        key=lambda key: (
            key in usual,
            known[key].kind in REACTING,  # one does nothing without the other
            # Of grains the usual one, rather than the one with more of the product.
            usage.rank(key) if known[key].category == "exfoliant" else (),
            round(named[key], 6),
            usage.rank(key),
            key,
        ),
        reverse=True,
    )
    least = LEAST_OF_A_CATEGORY * sum(named.values())
    large = [k for k in ranked if k in usual or named[k] >= least - TRACE]
    if all(named[key] < least for key in large):  # all of them are small
        large += [key for key in ranked if key not in usual][:1]
    return _few_of_a_kind(large, usage)


def _few_of_a_kind(ranked: Sequence[str], usage: Usage) -> set[str]:
    """Return the first of some ingredients: few of a category, and two of a kind."""
    kept: dict[tuple[str, str | None], list[str]] = {}
    counts: Counter[str] = Counter()
    for key in ranked:
        each = usage.catalogue.ingredients[key]
        alike = kept.setdefault((each.category, each.kind), [])
        few = FEWER.get(each.category, MOST_OF_A_CATEGORY)
        few = 1 if each.category in ONE else few
        if len(alike) < MOST_OF_A_KIND and counts[each.category] < few:
            alike.append(key)
            counts[each.category] += 1
    return {key for keys in kept.values() for key in keys}


def _spread(category: str, weight: float, found: Shared, usage: Usage) -> None:
    """Give what is named and not kept to what is kept: the large, of its category."""
    known, weights = usage.catalogue.ingredients, found.weights
    large = [key for key, mine in weights.items() if mine >= LEAST_OF_A_CATEGORY]
    large = large or [max(weights, key=lambda key: (weights[key], key))]
    among = [key for key in large if known[key].category == category] or large
    shares = {key: weights[key] for key in among}
    for key, mine in shares.items():
        found.add(key, weight * mine / sum(shares.values()))


def _stand_in(
    category: str, weight: float, percent: float, found: Shared, usage: Usage
) -> None:
    """Give what is bare to the ingredient of its category that most recipes name.

    One that recipes hold, or that limits allow, at far less than its share would be
    is passed by. What a limit does not allow goes to the next that is named; if
    there is none, it is left open.
    """
    ranked = usage.ranked(category)
    first, left = "", weight
    for key in ranked:
        mine = found.weights.get(key, 0.0)
        whole = percent * (mine + left)
        if min(usage.held(key), usage.ceiling(key)) < FAR_BELOW * whole:
            continue
        if first and not usage.named(key):
            break
        first = first or key
        taken = min(left, max(usage.ceiling(key) / percent - mine, 0.0))
        if taken > TRACE:
            found.stand_in(key, taken, category)
        left -= taken
        if left <= TRACE:
            return
    found.left_open[category] = found.left_open.get(category, 0.0) + left
