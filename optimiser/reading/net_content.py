"""The law of net content: ``markets/net_content.csv``, a rule a row."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from pathlib import Path

from optimiser.domain.net_content import Heights, NetContent, Sampling, Tolerance
from optimiser.errors import InputError, Problem
from optimiser.reading.duties import market_of, read_how
from optimiser.reading.folders import Ground, law_folders
from optimiser.reading.tables import Columns, TableRow

__all__ = ["read_net_content"]

FILE = "net_content.csv"
TABLE = Columns(
    "market,rule,over,up_to,percent,grams,sample,cumulative,accept,factor,read,"
    "instrument,verified,source,note",
    "cumulative verified read source note",
)
RULES = (
    "tolerance", "sample", "second sample", "mean", "defects", "short share", "beyond",
    "figure height",
)  # fmt: skip
# What each rule cannot do without; of tolerance one of two.
NEEDS = {
    "sample": ("over",),
    "second sample": ("over", "sample", "accept"),
    "mean": ("sample", "factor"),
    "defects": ("over", "accept"),
    "short share": ("percent",),
    "beyond": ("percent", "accept"),
    "figure height": ("over", "factor"),
}
NUMBERS = ("over", "up_to", "percent", "grams", "sample", "accept", "factor")


class _Row(dict[str, float | None]):
    """The figures of a row, with its market, rule, and where it was read."""

    market: str
    rule: str
    instrument: str
    read: str


def read_net_content(
    catalogues: Path, workshop: str | None = None
) -> Mapping[str, NetContent]:
    """Return market -> its rules, of a folder of catalogues.

    What the workshop's own folder "markets" says of a rule of a market stands in place
    of all rows that the shared table has of it.

    Raises
    ------
    InputError
        With every problem of the table.
    """
    problems: list[Problem] = []
    rows: dict[tuple[str, str], list[_Row]] = {}
    for folder, ground in law_folders(catalogues, workshop, problems):
        table = folder.table(FILE, TABLE)
        found: dict[tuple[str, str], list[_Row]] = {}
        if table is not None:
            for each in table.each(lambda row: _row(row, ground)):  # noqa: B023
                found.setdefault((each.market, each.rule), []).append(each)
        rows |= found
    if problems:
        raise InputError(problems)
    markets = dict.fromkeys(market for market, _ in rows)
    return {
        market: _rules(market, [x for of, each in rows.items() for x in each
                                if of[0] == market])
        for market in markets
    }  # fmt: skip


def _row(row: TableRow, ground: Ground) -> _Row | None:
    market, rule = market_of(row), row.choice("rule", RULES)
    read, instrument = read_how(row, ground), row.need("instrument")
    ground.source(row)
    found = _Row({name: row.number_in(name, 0.0) for name in NUMBERS})
    if market is None or rule is None or read is None or instrument is None:
        return None
    for name in NEEDS.get(rule, ()):
        row.need(name)
    if rule == "tolerance" and (found["percent"] is None) == (found["grams"] is None):
        row.say("percent", "and grams: one of the two says the tolerance", "fill one")
    if found["up_to"] is not None and found["up_to"] < (found["over"] or 0.0):
        row.say("up_to", "is less than over", "write the smaller one in over")
    found.market, found.rule, found.read, found.instrument = (
        market, rule, read, instrument,
    )  # fmt: skip
    return found


def _rules(market: str, rows: Iterable[_Row]) -> NetContent:
    by: dict[str, list[_Row]] = {rule: [] for rule in RULES}
    for row in rows:
        by[row.rule].append(row)
    second = {row["over"]: row for row in by["second sample"]}
    mean = {(row["over"], row["sample"]): row["factor"] for row in by["mean"]}
    short, beyond = by["short share"], by["beyond"]
    told = [row for rule in RULES if rule != "figure height" for row in by[rule]]
    return NetContent(
        market=market,
        tolerances=tuple(
            Tolerance(*_span(row), row["percent"], row["grams"])
            for row in by["tolerance"]
        ),
        samplings=tuple(_sampling(row, second, mean) for row in by["sample"]),
        factors={
            int(row["sample"] or 0): row["factor"] or 0.0
            for row in by["mean"]
            if row["over"] is None
        },
        defects=tuple(
            (int(_span(row)[0]), _span(row)[1], int(row["accept"] or 0))
            for row in by["defects"]
        ),
        short_share=short[0]["percent"] if short else None,
        beyond=beyond[0]["percent"] if beyond else None,
        beyond_accepted=int(beyond[0]["accept"] or 0) if beyond else 0,
        heights=tuple(
            Heights(*_span(row), row["factor"] or 0.0) for row in by["figure height"]
        ),
        instruments=tuple(dict.fromkeys(row.instrument for row in told)),
        reads=tuple(row.read for row in told),
    )


def _span(row: _Row) -> tuple[float, float]:
    most = row["up_to"]
    return row["over"] or 0.0, math.inf if most is None else most


def _sampling(
    row: _Row,
    second: Mapping[float | None, _Row],
    mean: Mapping[tuple[float | None, float | None], float | None],
) -> Sampling:
    over, up_to = _span(row)
    more = second.get(row["over"])
    sample = None if row["sample"] is None else int(row["sample"])
    factor = row["factor"]
    return Sampling(
        over=int(over),
        up_to=up_to,
        sample=sample,
        share=row["percent"],
        accept=None if row["accept"] is None else int(row["accept"]),
        factor=mean.get((row["over"], row["sample"])) if factor is None else factor,
        second=None if more is None else int(more["sample"] or 0),
        accept_both=None if more is None else int(more["accept"] or 0),
    )
