"""The law of labels: ``markets/labels.csv``, a rule a row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from msgspec import Struct

from optimiser.domain.catalogue import Source, fold
from optimiser.domain.label import LabelRules, Letters
from optimiser.domain.law import READ
from optimiser.errors import InputError, Problem
from optimiser.reading.cells import to_number
from optimiser.reading.duties import market_of
from optimiser.reading.folders import Folder, Ground, read_sources, source_names
from optimiser.reading.tables import Columns, TableRow

__all__ = ["read_label_rules"]

FILE = "labels.csv"
TABLE = Columns("market,rule,of,value,read,instrument,entry,source,note", "note")
# What a rule's value may be, None for any text, and what it may be "of".
VALUES: Mapping[str, Sequence[str] | None] = {
    "any order": ("below 1", "up to 1"),
    "word": None,
    "scent last": ("yes",),
    "name": None,
    "letters": None,
    "durable months": None,
    "no content under": None,
    "content": ("ounces too",),
    "to fill in": None,
    "told": None,
}
OF: Mapping[str, Sequence[str]] = {
    "word": ("scent", "flavour"),
    "to fill in": ("address", "country", "contact"),
}
NUMBERS = ("letters", "durable months", "no content under")
# What each market has to say before anything can be written.
NEEDED = ("any order", "word")
ANY = "any"


class _LabelRow(Struct):
    """A row as it was read."""

    market: str
    rule: str
    of: str
    value: str
    number: float
    instrument: str
    read: str


def read_label_rules(catalogues: Path) -> Mapping[str, LabelRules]:
    """Return market -> its rules, of a folder of catalogues.

    Raises
    ------
    InputError
        With every problem of the table.
    """
    problems: list[Problem] = []
    folder = Folder(catalogues, catalogues.name, problems).inside("markets")
    sources: dict[str, Source] = {}
    whole = read_sources(folder, sources)
    ground = Ground(None, source_names(sources) if whole else None)
    table = folder.table(FILE, TABLE)
    rows: dict[str, list[_LabelRow]] = {ANY: []}
    for each in table.each(lambda row: _row(row, ground)) if table is not None else ():
        rows.setdefault(each.market, []).append(each)
    yardstick = _letters(rows.pop(ANY), law=False)
    for market, found in rows.items():
        told = {each.rule for each in found}
        problems += [
            Problem(
                f"has no row '{rule}' for {market}", f"{folder.shown}/{FILE}",
                fix="add one: without it no list of ingredients can be written",
            )
            for rule in NEEDED
            if rule not in told
        ]  # fmt: skip
    if yardstick is None and not problems:
        wrong = "has no row 'letters' for any market"
        problems.append(Problem(wrong, f"{folder.shown}/{FILE}", fix="add one"))
    if problems or yardstick is None:
        raise InputError(problems)
    return {market: _rules(market, found, yardstick) for market, found in rows.items()}


def _row(row: TableRow, ground: Ground) -> _LabelRow | None:
    market, rule = market_of(row), row.choice("rule", tuple(VALUES))
    value, read = row.need("value"), row.choice("read", READ)
    instrument, of = row.need("instrument"), row.text("of")
    ground.source(row)
    if rule is None or value is None:
        return None
    among = VALUES[rule]
    if among is not None:
        row.choice("value", among)
    if rule in OF:
        row.choice("of", OF[rule])
    number = to_number(value)
    if rule in NUMBERS and (number is None or number <= 0):
        row.say("value", "is not a number above 0", "write a number, as in 1.6")
    if market is None or read is None or instrument is None:
        return None
    return _LabelRow(market, rule, of, value, number or 0.0, instrument, read)


def _letters(rows: Iterable[_LabelRow], *, law: bool) -> Letters | None:
    found = {each.of: each.number for each in rows if each.rule == "letters"}
    if "" not in found:
        return None
    small = {to_number(under): high for under, high in found.items() if under}
    under = next((each for each in small if each), 0.0)
    return Letters(found[""], under, small.get(under, found[""]), law)


def _rules(market: str, rows: Sequence[_LabelRow], yardstick: Letters) -> LabelRules:
    of = {(row.rule, row.of): row for row in rows}
    alone = {row.rule: row for row in rows}
    months, least = alone.get("durable months"), alone.get("no content under")
    scent = of["word", "scent"].value if ("word", "scent") in of else "Parfum"
    flavour = of["word", "flavour"].value if ("word", "flavour") in of else "Aroma"
    return LabelRules(
        market=market,
        border_free=alone["any order"].value == "up to 1",
        scent=scent,
        flavour=flavour,
        scent_last="scent last" in alone,
        letters=_letters(rows, law=True) or yardstick,
        names={fold(row.of): row.value for row in rows if row.rule == "name"},
        durable_months=None if months is None else int(months.number),
        no_content_under=0.0 if least is None else least.number,
        ounces="content" in alone,
        to_fill_in=tuple((r.of, r.value) for r in rows if r.rule == "to fill in"),
        told=tuple((row.of, row.value) for row in rows if row.rule == "told"),
        instruments=tuple(dict.fromkeys(row.instrument for row in rows)),
        reads=tuple(row.read for row in rows),
    )
