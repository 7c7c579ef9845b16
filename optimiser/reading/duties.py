"""What a market asks for beside limits, and for which products and days a row holds."""

from __future__ import annotations

import csv

from optimiser.domain.catalogue import fold
from optimiser.domain.law import DUTIES, OWN, READ, Duty, Scope
from optimiser.domain.products import NAMES
from optimiser.domain.spoken import market_named
from optimiser.reading.disk import content, exists
from optimiser.reading.folders import Folder, Ground, shipped_folder
from optimiser.reading.materials import USES
from optimiser.reading.names import Names
from optimiser.reading.tables import Columns, TableRow

__all__ = [
    "SCOPE",
    "market_of",
    "read_duties",
    "read_how",
    "scope_of",
    "shipped_markets",
]

# The columns of a scope, each of which a table may do without.
SCOPE = "products not_for from supply_until read"
COLUMNS = Columns(
    "market,about,kind,use,substance,above_percent,text,products,not_for,from,"
    "supply_until,read,instrument,entry,source,note,words",
    f"substance above_percent entry note words {SCOPE}",
)
_KINDS = Names.of("kind of product", NAMES)


def shipped_markets() -> tuple[str, ...]:
    """Return the codes of the markets whose law came with the program, as it has them.

    Each has duties; a file that cannot be read is told by who reads all of it.
    """
    path = shipped_folder("catalogues") / "markets" / "duties.csv"
    try:
        lines = content(path).decode("utf-8", errors="replace").splitlines()
        named = [row.get("market") or "" for row in csv.DictReader(lines)]
    except (OSError, csv.Error):
        return ()
    return tuple(each for each in dict.fromkeys(named) if _is_code(each))


def _is_code(text: str) -> bool:
    return text.isascii() and text.isalpha() and text.isupper() and len(text) < 4


def market_of(row: TableRow) -> str | None:
    """Return the market of a row: any, or two or three capital letters."""
    text = row.need("market")
    if text is None or text == "any":
        return text
    text = market_named(text)
    if not _is_code(text):
        fix = f"write any, or a code such as {', '.join(shipped_markets())}"
        row.say("market", "is not the code of a market", fix)
    return text


def scope_of(row: TableRow, ground: Ground) -> Scope:
    """Return for which products and days a row of law holds, and how it was read."""
    begins, supply = row.day("from"), row.day("supply_until")
    if begins is not None and supply is not None and supply < begins:
        row.say("supply_until", "is before the day it begins", "swap the two")
    read = row.choice("read", READ, blank=True)
    unsaid = OWN if ground.own else "memory"
    kinds, but = _kinds(row, "products"), _kinds(row, "not_for")
    return Scope(kinds, but, begins, supply, read or unsaid)


def read_how(row: TableRow, ground: Ground) -> str | None:
    """Return how a row was read; the maker's own rows need not say."""
    return row.choice("read", READ, blank=ground.own) or (OWN if ground.own else None)


def _kinds(row: TableRow, column: str) -> tuple[str, ...]:
    """Return the kinds of product in a cell, parted by semicolons."""
    found = []
    for text in row.parts(column):
        name = _KINDS.find(text)
        if name is None:
            row.say(column, _KINDS.wrong(text), f"the kinds are {', '.join(NAMES)}")
        else:
            found.append(name)
    return tuple(found)


def read_duties(folder: Folder, ground: Ground) -> tuple[Duty, ...]:
    """Return what markets ask for, or leave free, beside limits on amounts."""
    if not exists(folder.folder / "duties.csv"):
        return ()  # a catalogue may do without
    table = folder.table("duties.csv", COLUMNS)
    return () if table is None else tuple(table.each(lambda row: _duty(row, ground)))


def _duty(row: TableRow, ground: Ground) -> Duty | None:
    """Return a row of duties.csv."""
    market, about, text = market_of(row), row.need("about"), row.need("text")
    kind, use = row.choice("kind", DUTIES), row.choice("use", USES)
    substance = fold(row.text("substance")) or None
    above = row.number_in("above_percent", 0, 100)
    scope, source = scope_of(row, ground), ground.source(row)
    instrument = row.need("instrument")
    if above is not None and substance is None:
        row.say("above_percent", "has no substance", "name the substance it counts")
    if None in (market, about, text, kind, use, instrument):
        return None
    return Duty(
        market or "",
        about or "",
        kind or "",
        use or "",
        substance,
        above or 0.0,
        text or "",
        instrument or "",
        row.text("entry"),
        source,
        row.origin,
        scope,
        row.text("words"),
    )
