"""The one currency of a workshop, and what of its figures is no maker's own."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from msgspec import Struct

from optimiser.errors import Problem
from optimiser.reading import disk
from optimiser.reading.folders import Folder
from optimiser.reading.shapes import shown_value
from optimiser.reading.tables import CsvTable, TableRow
from optimiser.reading.toml_text import read_toml

__all__ = [
    "CODE",
    "INVENTED",
    "Currency",
    "Money",
    "invented",
    "is_invented",
    "money_of",
    "read_currency",
]

CODE = r"[A-Z]{3}"
# What the evidence of prices, lots and other figures of a workshop can be said to be.
INVENTED = "invented"
SHAPE_FIX = "write its code, as in EUR"


class Currency(Struct, frozen=True):
    """What scale.toml says of the currency: a code, or None; ``shown`` is the file.

    ``invented`` says that the file is no maker's own.
    """

    code: str | None
    shown: str
    invented: bool = False


class Money(Struct, frozen=True):
    """The currency that counts, blank where none is named.

    ``uncounted`` are the other ones in which there are invented prices: these are no
    prices of the workshop. ``said`` is what scale.toml names.
    """

    code: str
    said: str | None = None
    uncounted: tuple[str, ...] = ()

    def of(self, row: TableRow) -> str:
        """Return the currency of a row of prices."""
        return _text(row, self.said) or self.code


def invented(row: TableRow) -> bool:
    """Whether a row is no maker's own."""
    return row.choice("evidence", (INVENTED,), blank=True) is not None


def is_invented(
    content: Mapping[str, object], shown: str, problems: list[Problem]
) -> bool:
    """Whether a file of a workshop says that its figures are no maker's own."""
    found = content.get("evidence")
    if found is not None and found != INVENTED:
        fix = f'write evidence = "{INVENTED}", or leave it out where figures are yours'
        wrong = "is not known here"
        told = shown_value(found)
        problems.append(Problem(wrong, shown, field="evidence", found=told, fix=fix))
    return found == INVENTED


def read_currency(folder: Folder) -> Currency:
    """Return what scale.toml of a workshop says of the currency."""
    path = folder.folder / "scale.toml"
    shown = f"{folder.shown}/scale.toml"
    if not disk.stands(path):
        return Currency(None, shown)
    content = read_toml(path, shown, folder.problems)
    if content is None or "currency" not in content:
        return Currency(None, shown)
    table = content["currency"]
    code = table.get("code") if isinstance(table, dict) else table
    if isinstance(code, str) and re.fullmatch(CODE, code):
        return Currency(code, shown, content.get("evidence") == INVENTED)
    fix = 'write [currency] and, below it, code = "EUR"'
    wrong = "is not a currency of three capital letters"
    found = None if code is None else shown_value(code)
    folder.problems.append(Problem(wrong, shown, None, "currency.code", found, fix))
    return Currency(None, shown)


def money_of(table: CsvTable, said: Currency) -> Money:
    """Return the currency of a table of prices, after checking each row's.

    What scale.toml says counts, unless that file is invented and the maker's own rows
    name another: then theirs does. Without either the first row's counts. Invented
    rows in another currency do not count; the maker's own are told as a problem.
    """
    named = list(table.each(lambda row: _named(row, said.code)))
    own = [row for row in named if row.text("evidence") != INVENTED]
    code, first = said.code, None
    theirs = {row.text("currency") for row in own}
    if code is None or (said.invented and theirs and code not in theirs):
        first = next(iter(own or named), None)
        code = said.code if first is None else first.text("currency")
    if code is None:
        for _ in table.each(_say_blank):
            pass
    where = said.shown if first is None else str(first.origin)
    others = [row for row in own if row.text("currency") != code]
    _say_others(others, code or "", where, settles=first is None and code not in theirs)
    made_up = [row for row in table.rows if row.text("evidence") == INVENTED]
    told = dict.fromkeys(_text(row, said.code) for row in made_up)
    uncounted = tuple(each for each in told if each and each != code)
    return Money(code or "", said.code, uncounted)


def _text(row: TableRow, said: str | None) -> str:
    """Return the currency that a row names; an invented one means the file's own."""
    text = row.text("currency")
    return text or (said or "" if row.text("evidence") == INVENTED else "")


def _named(row: TableRow, said: str | None) -> TableRow | None:
    """Return a row that names its currency; None if it is blank, or wrong and said."""
    text = _text(row, said)
    if text and re.fullmatch(CODE, text) is None:
        row.say("currency", "is not a code of three capital letters", SHAPE_FIX)
    return row if row.text("currency") else None


def _say_blank(row: TableRow) -> None:
    """Say that a row is in no currency that anything names."""
    if not row.text("currency"):
        row.say("currency", "is blank, and scale.toml names none", SHAPE_FIX)


def _say_others(
    rows: Sequence[TableRow], code: str, where: str, *, settles: bool
) -> None:
    """Say of each other currency which is its first row, and how many more are.

    Most often all are in one, and one message is enough. ``settles`` tells that the
    maker's own prices are all in others, so that another code would mend it.
    """
    others: dict[str, list[TableRow]] = {}
    for row in rows:
        others.setdefault(row.text("currency"), []).append(row)
    for other, (first, *more) in others.items():
        wrong = f"is a second currency beside {code} ({where})"
        if more:
            wrong += f"; so it is in {len(more)} more rows"
        fix = f"convert {'the prices' if more else 'the price'} to {code}"
        if settles and len(others) == 1:
            fix += (
                f"; or, where all your prices are in {other}, write code ="
                f' "{other}" below [currency] in {where}'
            )
        first.say("currency", wrong, fix)
