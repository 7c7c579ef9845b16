"""What studies say in sentences: the second opinion, notes, who asked for what."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimiser.presenting.answer import about as about_answer
from optimiser.presenting.notes import notes as notes_of
from optimiser.presenting.words import clean, decimals, listed, short

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optimiser.explaining.basis import Basis
    from optimiser.studies.made import About, Miss, Second, Told
    from optimiser.studies.substitute import Substitution
    from optimiser.studies.tradeoff.axes import Axis
    from optimiser.studies.without import GivenUp

__all__ = [
    "HELD",
    "about",
    "axis_words",
    "different",
    "given_up_words",
    "second_in_words",
    "substitute_notes",
    "told_notes",
]

HELD = (
    "Where the second opinion did not agree at first, it is the best formula found for"
    " which it does, which is not proved to be the best there is."
)
BY_SUMS = "windows on solid fat and firmness are held by straight sums here"
ROOM = (
    "`formulate` finds another formula then, mostly dearer; margin = true below [guard]"
    " keeps room for it here too"
)
UNASKED = "`formulate` and `why` also ask the second opinion, and may answer otherwise"
LINED = (
    "all formulas here are held to it in one simple way, so that a somewhat better one"
    " that also holds may have been passed over"
)
AGREES = "by the second opinion they hold too, in every formula shown"
ASKED = "windows on solid fat and firmness hold by the second opinion too"
UNKNOWN = "it knows too little of some fats to judge every formula shown"
MOST_MISSED = 4


def given_up_words(given: GivenUp) -> str:
    """Return a share that went with what is out, as a rule's sentence says it.

    >>> from optimiser.studies.without import GivenUp
    >>> given_up_words(GivenUp("beeswax", "min", 2.5))
    'beeswax at least 2.5 %'
    """
    side = "exactly" if given.side == "exact" else "at least"
    return f"{clean(given.name)} {side} {short(given.percent)} %"


def axis_words(axis: Axis) -> str:
    """Return an aim or a property as a maker says it.

    >>> from optimiser.studies.tradeoff.axes import Axis
    >>> axis_words(Axis("firmness", "", 25.0, "lipids", True))
    'firmness at 25 °C'
    """
    return axis.name if axis.at is None else f"{axis.name} at {short(axis.at)} °C"


def about(of: About, basis: Basis | None = None) -> tuple[str, ...]:
    """Return what stands below a study's title; ``basis`` is that of its formulas."""
    which = of.invented_of if basis is None else basis.invented_of
    told = about_answer(of.file, of.use, of.markets, of.invented, which)
    return (*told, f"batch {short(of.batch_kg)} kg")


def different(percent: float) -> str:
    """Return how much of one formula is not in another.

    >>> different(2.04)
    '2.0 %'
    """
    return f"{decimals(percent, 1)} %"


def second_in_words(said: Second) -> str:
    """Return what the second opinion says of the windows of some formulas."""
    if said.missed:
        missed = f"by the second opinion {_missed(said.missed)}"
        if not said.asked:
            return f"{BY_SUMS}, as the scenario asks; {missed}"
        if said.lined is None:
            return f"{missed}; no formula was found for which that holds"
        return f"{BY_SUMS}; {missed}. {ROOM}"
    if said.lined is False:
        return f"{BY_SUMS}; {AGREES if said.known else UNASKED}"
    text = ASKED if said.known else f"{ASKED}, as far as it can say: {UNKNOWN}"
    return f"{text}; {LINED}" if said.lined else text


def _missed(missed: Sequence[Miss]) -> str:
    """Return which windows do not hold, the first few of them."""
    sides = {"min": "under", "max": "over"}
    told = [
        f"{each.formula} has {each.property} {decimals(each.figure, 0)}"
        f"{_at(each.at)}, {sides[each.side]} the {short(each.limit)} asked for"
        for each in missed[:MOST_MISSED]
    ]
    more = len(missed) - len(told)
    return "; ".join(told) + (f"; and {more} more" if more else "")


def _at(degrees: float | None) -> str:
    return "" if degrees is None else f" at {short(degrees)} °C"


def told_notes(told: Told) -> tuple[str, ...]:
    """Return what must be said with some formulas, the second opinion first."""
    several = len(told.formulas) > 1
    formulas = [(title if several else "", lines) for title, lines in told.formulas]
    second = () if told.second is None else (second_in_words(told.second),)
    return (*second, *notes_of(told.basis, formulas))


def substitute_notes(found: Substitution) -> tuple[str, ...]:
    """Return what a maker would otherwise wonder about a substitute."""
    said = []
    if found.nothing_out:
        said.append("the base holds nothing of it, so nothing had to go")
    said += [
        f"no other {category} is among what the scenario may choose from; name one"
        ' with --with "..."'
        for category in found.no_other
    ]
    said += [
        f"no other {move.category} takes the place of {move.what}"
        f" ({short(-move.points)} %): its share went to the rest; name one with"
        ' --with "..."'
        for move in found.unreplaced
    ]
    if found.also_less:
        moves = [
            f"{move.what} {decimals(-move.points, 1)} %" for move in found.also_less
        ]
        said.append(
            "more than what left has gone down, for the rules ask for it:"
            f" {listed(moves)}"
        )
    return tuple(said)
