"""Two or three formulas side by side, held against the rules as they are now."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from markupsafe import Markup
from msgspec import Struct

from optimiser.errors import InputError, Problem
from optimiser.explaining import check, formulate
from optimiser.explaining.answer import Answer
from optimiser.presenting.comparing import Compared, compared_page
from optimiser.presenting.html import section_html
from optimiser.reading import read_scenario
from optimiser.solving.patience import within
from optimiser.studies.variants import Variants, variants
from optimiser.web.desk import Desk
from optimiser.web.rooms import Rooms, scenarios
from optimiser.web.templates import rendered

__all__ = ["compared_html"]

MOST, LEAST = 3, 2  # formulas side by side
WAITS = 20.0  # seconds for the formula of a file
SEARCHES = 7.0  # seconds for variants
VARIANTS = 4
FIRST = ("base", "now")


class Pickable(Struct, frozen=True):
    """A formula that may be compared, by a key of the page's own."""

    key: str
    name: str
    taken: bool


def compared_html(
    rooms: Rooms, desk: Desk, wanted: Sequence[str], *, search: bool = False
) -> str:
    """Return formulas to choose from, and those that are chosen side by side.

    Parameters
    ----------
    wanted : sequence of str
        Keys of formulas; what is not there is passed over.
    search : bool
        Look for variants of the last question first.

    Raises
    ------
    InputError
        If a formula holds what the catalogue does not.
    """
    if search:
        asked = desk.asked
        found = variants(asked.scenario, asked.catalogue, VARIANTS, seconds=SEARCHES)
        desk.variants = _variants(found) if isinstance(found, Variants) else {}
    known = dict(_known(rooms, desk))
    keys = [each for each in wanted or FIRST if each in known][:MOST]
    formulas = [(known[key], _formula(rooms, desk, key)) for key in keys]
    asked = desk.asked
    told = [
        Compared(name, check(_usable(formula, desk), asked.scenario, asked.catalogue))
        for name, formula in formulas
    ]
    shown = ""
    if len(told) >= LEAST:
        page = compared_page(told)
        shown = "\n".join(section_html(each, 3) for each in page.sections)
    return rendered(
        "compare.html",
        choices=[Pickable(key, name, key in keys) for key, name in known.items()],
        full=len(keys) >= MOST,
        few=len(told) < LEAST,
        searched=desk.variants is not None,
        none=desk.variants == {},
        shown=Markup(shown),
    )


def _variants(found: Variants) -> dict[str, Mapping[str, float]]:
    return {each.formula.title: each.formula.amounts for each in found.variants}


def _known(rooms: Rooms, desk: Desk) -> Iterator[tuple[str, str]]:
    """Yield what may be compared: keys with names."""
    if desk.asked.scenario.base:
        yield "base", "base"
    if desk.asked.good is not None:
        yield "now", "now"
    if desk.before is not None:
        yield "before", "before"
    for title in desk.variants or {}:
        yield title, title
    for file, title in scenarios(rooms.workspace):
        own = (rooms.workspace / file).resolve() == desk.path.resolve()
        yield f"file:{file}", f"{title}, as saved" if own else title


def _formula(rooms: Rooms, desk: Desk, key: str) -> Mapping[str, float]:
    """Return a formula, percent by ingredient key."""
    if key == "base":
        return desk.asked.scenario.base
    if key == "now" and desk.asked.good is not None:
        return _amounts(desk.asked.good)
    if key == "before" and desk.before is not None:
        return _amounts(desk.before)
    if desk.variants and key in desk.variants:
        return desk.variants[key]
    with within(WAITS):
        found = formulate(*read_scenario(rooms.workspace / key.removeprefix("file:")))
    if isinstance(found, Answer):
        return _amounts(found)
    wrong, fix = "has no formula, for its rules clash", "open it to see ways out"
    raise InputError([Problem(wrong, key.removeprefix("file:"), fix=fix)])


def _amounts(answer: Answer) -> dict[str, float]:
    return {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}


def _usable(formula: Mapping[str, float], desk: Desk) -> Mapping[str, float]:
    """Return a formula of which this scenario's catalogue knows all."""
    strange = [key for key in formula if key not in desk.asked.catalogue.ingredients]
    if strange:
        wrong = "is no ingredient of the catalogue here"
        raise InputError([Problem(wrong, found=strange[0], fix="compare another")])
    return formula
