"""The maker's answers to what a recipe leaves open."""

from __future__ import annotations

from pathlib import Path

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.recipe import Replies, Reply
from optimiser.errors import Problem, nearest
from optimiser.reading.recipes.amounts import read_amount
from optimiser.reading.recipes.knowledge import GROUPS, stands_for
from optimiser.reading.tables import Columns, TableRow, read_table

__all__ = ["read_answers"]

ANSWERS = Columns("recipe,ingredient,answer,note", "note")
PLAIN = ("as written", "leave out", "by weight", "by volume")
HOW = (
    "write an amount such as 1/4 tsp, or: as written, leave out, "
    "is COCOA BUTTER, by weight, by volume"
)


def read_answers(path: Path, catalogue: Catalogue, problems: list[Problem]) -> Replies:
    """Return answers by (recipe, ingredient as written), both folded.

    Parameters
    ----------
    path : Path
        A table with the columns recipe, ingredient and answer. A blank ingredient
        speaks of the whole recipe.
    catalogue : Catalogue
        Where "is ..." is looked up.
    problems : list of Problem
        Gains every problem; nothing is raised.
    """
    found: dict[tuple[str, str], Reply] = {}
    for row in read_table(path, str(path), ANSWERS, problems).rows:
        answer = _answer(row, catalogue)
        if answer is None:
            continue
        key = (fold(answer.recipe), fold(answer.name))
        if key in found:
            row.say("recipe", f"is answered in row {found[key].origin.row} already")
        found[key] = answer
    return found


def _answer(row: TableRow, catalogue: Catalogue) -> Reply | None:
    """Return a row of the answers."""
    recipe, name, text = row.need("recipe"), row.text("ingredient"), row.need("answer")
    if recipe is None or text is None:
        return None
    said = fold(text)
    if said in PLAIN:
        return Reply(said, recipe, name, text, row.origin)
    if not name:
        row.say(
            "answer",
            "is no answer about a whole recipe",
            "write as written, leave out, by weight or by volume",
        )
        return None
    if said.startswith("is "):
        match = stands_for(text.strip()[3:], catalogue)
        if match is not None:
            return Reply("is", recipe, name, text, row.origin, match)
        known = (*catalogue.names(), *GROUPS)
        wrong = f"names nothing of the catalogue; {nearest(said[3:], known)}"
        row.say("answer", wrong, "write an ingredient of it, or a category")
        return None
    return Reply("amount", recipe, name, text, row.origin) if _amount(row) else None


def _amount(row: TableRow) -> bool:
    """Whether the answer is an amount with a unit; a problem is added if not."""
    try:
        amount = read_amount(row.text("answer"), "")
        known = bool(amount.measures and amount.measures[0].unit)
    except ValueError:
        known = False
    if not known:
        row.say("answer", "is no answer that is understood", HOW)
    return known
