"""The law of labels: ``markets/labels.csv``, a rule a row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from msgspec import Struct

from optimiser.domain.catalogue import fold
from optimiser.domain.label import HEADS, LabelRules, Letters
from optimiser.errors import InputError, Problem
from optimiser.reading.cells import to_number
from optimiser.reading.duties import market_of, read_how
from optimiser.reading.folders import Ground, law_folders
from optimiser.reading.tables import Columns, TableRow

__all__ = ["read_label_rules"]

FILE = "labels.csv"
TABLE = Columns(
    "market,rule,of,value,read,instrument,entry,source,note", "read entry source note"
)
# What a rule's value may be, None for any text, and what it may be "of".
VALUES: Mapping[str, Sequence[str] | None] = {
    "any order": ("below 1", "up to 1"),
    "word": None,
    "scent last": ("yes",),
    "name": None,
    "head": None,
    "letters": None,
    "durable months": None,
    "no content under": None,
    "content": ("ounces too",),
    "to fill in": None,
    "told": None,
}
OF: Mapping[str, Sequence[str]] = {
    "word": ("scent", "flavour"),
    "head": tuple(HEADS),
    "to fill in": ("address", "country", "contact", "language"),
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


def read_label_rules(
    catalogues: Path, workshop: str | None = None
) -> Mapping[str, LabelRules]:
    """Return market -> its rules, of a folder of catalogues.

    A row of the workshop's own folder "markets" stands in place of the shared ones of
    the same market, rule and "of".

    Raises
    ------
    InputError
        With every problem of the table.
    """
    problems: list[Problem] = []
    shown = f"{catalogues.name}/markets/{FILE}"
    found: dict[tuple[str, str, str], list[_LabelRow]] = {}
    for folder, ground in law_folders(catalogues, workshop, problems):
        table = folder.table(FILE, TABLE)
        here: dict[tuple[str, str, str], list[_LabelRow]] = {}
        if table is not None:
            for each in table.each(lambda row: _row(row, ground)):  # noqa: B023
                here.setdefault((each.market, each.rule, each.of), []).append(each)
        found |= here
    rows: dict[str, list[_LabelRow]] = {ANY: []}
    for each in (row for same in found.values() for row in same):
        rows.setdefault(each.market, []).append(each)
    yardstick = _letters(rows.pop(ANY), law=False)
    for market, of in rows.items():
        told = {each.rule for each in of}
        problems += [
            Problem(
                f"has no row '{rule}' for {market}", shown,
                fix="add one: without it no list of ingredients can be written",
            )
            for rule in NEEDED
            if rule not in told
        ]  # fmt: skip
    if yardstick is None and not problems:
        wrong = "has no row 'letters' for any market"
        problems.append(Problem(wrong, shown, fix="add one"))
    if problems or yardstick is None:
        raise InputError(problems)
    return {market: _rules(market, of, yardstick) for market, of in rows.items()}


def _row(row: TableRow, ground: Ground) -> _LabelRow | None:
    market, rule = market_of(row), row.choice("rule", tuple(VALUES))
    value, read = row.need("value"), read_how(row, ground)
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
        heads={**HEADS, **{row.of: row.value for row in rows if row.rule == "head"}},
    )
