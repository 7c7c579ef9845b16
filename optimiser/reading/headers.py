"""Header rows of CSV tables: which columns there are, and which there should be."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from optimiser.errors import Problem, nearest

if TYPE_CHECKING:
    from optimiser.reading.tables import Table

__all__ = ["Columns", "take_header"]


class Columns:
    """Columns of a table, and which of them it may do without.

    Parameters
    ----------
    header : str
        The header row with every column.
    optional : str
        Columns that may be absent, parted by spaces.
    any_more : bool
        Whether other columns are passed over rather than refused.
    """

    def __init__(self, header: str, optional: str, *, any_more: bool = False) -> None:
        self.header = header
        self.known = tuple(header.split(","))
        self.required = tuple(
            name for name in self.known if name not in optional.split()
        )
        self.any_more = any_more


def take_header(table: Table, header: list[str], columns: Columns) -> bool:
    """Set the places of the columns; return whether the header is right."""
    while header and not header[-1]:
        header.pop()
    parted = _parted_otherwise(table.shown, header)
    if parted is not None:
        table.problems.append(parted)
        return False
    before = len(table.problems)
    for place, name in enumerate(header):
        if name in table.places:
            _say_header(table, name, "is there twice", "take one of them out")
        elif name in columns.known or columns.any_more:
            table.places[name] = place
        else:
            _say_unknown(table, name, columns.known)
    for name in columns.required:
        if name not in table.places:
            _say_header(table, name, "is missing", f"the columns are {columns.header}")
    return len(table.problems) == before


def _say_header(table: Table, name: str, wrong: str, fix: str) -> None:
    """Add a problem with a column as a whole."""
    table.problems.append(Problem(wrong, table.shown, row=1, field=name, fix=fix))


def _say_unknown(table: Table, name: str, known: Iterable[str]) -> None:
    """Add the problem of a column that is not known."""
    if not name:
        fix = "name the column, or take it out"
        problem = Problem("a column has no name", table.shown, row=1, fix=fix)
        table.problems.append(problem)
        return
    wrong = f"is not a known column; {nearest(name, known)}"
    _say_header(table, name, wrong, "correct its name, or take the column out")


def _parted_otherwise(shown: str, header: list[str]) -> Problem | None:
    """Return the problem of a header parted by semicolons or tabs, if it is."""
    if len(header) != 1:
        return None
    for mark, word in ((";", "semicolons"), ("\t", "tabs")):
        names = [name.strip() for name in header[0].split(mark)]
        if len(names) > 1:
            fix = (
                "save it with commas between the cells and a point in decimals "
                "(a spreadsheet asks for the field delimiter under Save as)"
            )
            wrong = f"has its cells parted by {word}, not by commas"
            return Problem(wrong, shown, fix=fix)
    return None
