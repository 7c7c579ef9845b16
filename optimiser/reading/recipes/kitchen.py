"""The lines of one recipe in percent, where nothing is left open.

A survey lives with doubt and asks for answers; what is to be made or checked does not:
whatever is not certain is a problem with its row.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.recipe import Amount, KitchenMeasure, Match, Written, WrittenLine
from optimiser.errors import Problem
from optimiser.reading.recipes.amounts import amount_and_name, read_amount
from optimiser.reading.recipes.knowledge import Knowledge
from optimiser.reading.recipes.names import Matcher, certain
from optimiser.reading.recipes.phrases import in_doubt, is_total
from optimiser.reading.recipes.weighing import Weigher

__all__ = ["KitchenLine", "kitchen_percents"]

NEAR_100 = (85.0, 115.0)  # numbers without any unit that add up to this are percent
WRITE = "write an amount and a unit, such as 250,g or 1 1/2,tbsp"


class KitchenLine(Struct, frozen=True):
    """One line: its name as written, its percent of the product, and where it is.

    ``grams`` is what it weighs, where the recipe is by weight.
    """

    name: str
    percent: float
    row: int | None
    grams: float | None = None


class _Line(Struct):
    """A line on its way: its amount, and what its name stands for."""

    written: WrittenLine
    name: str
    match: Match
    amount: Amount
    measure: KitchenMeasure


def kitchen_percents(
    written: Written,
    catalogue: Catalogue,
    knowledge: Knowledge,
    problems: list[Problem],
    told: list[str],
) -> list[KitchenLine]:
    """Return the lines of a recipe in percent of the finished product.

    Parameters
    ----------
    written : Written
        Amounts in weights and volumes, in percent, or in parts by weight. Percent
        among weights is of the finished product.
    problems : list of Problem
        Gains what cannot be read, with its row; the line is left out.
    told : list of str
        Gains what was converted or taken one way of several.
    """
    _one_comma(written, problems)
    matcher = Matcher(catalogue, knowledge.words, knowledge.taught)
    for each, readings in in_doubt(written):
        _ask(each, f"may be {readings}: other lines have a decimal comma", problems)
    rows = [each for each in written.lines if not is_total(each.name)]
    told += [
        f"{each.name}: a total, no ingredient"
        for each in written.lines
        if is_total(each.name)
    ]
    lines = [line for each in rows if (line := _read(each, matcher, problems))]
    if problems:
        return []
    for line in lines:
        told += [f"{line.name}: {each}" for each in line.amount.remarks]
        span = line.measure.span
        if span.low < span.high and not line.amount.remarks:
            told.append(f"{line.name}: {line.measure.said} read as its middle")
    kind = _kind(lines, problems, told)
    if kind != "weight":
        return _shared(lines, kind, problems)
    if any(line.measure.unit == "part" for line in lines):
        return []
    return _weighed(lines, Weigher(knowledge, catalogue), problems, told)


_DECIMAL = re.compile(r"(?<![\d.,])\d+,(?:\d{1,2}|\d{4,})(?![\d.,])")
_THOUSANDS = re.compile(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d.,])")


def _one_comma(written: Written, problems: list[Problem]) -> None:
    """Ask of what reads as thousands where commas stand for decimals elsewhere."""
    if not any(_DECIMAL.search(line.amount) for line in written.lines):
        return
    for line in written.lines:
        found = _THOUSANDS.search(line.amount)
        if found is not None:
            whole, point = (found[0].replace(",", each) for each in ("", "."))
            wrong = f"may be {whole} or {point}: other rows write a decimal comma"
            _ask(line, wrong, problems, f"write {whole}, or {point}")


def _read(line: WrittenLine, matcher: Matcher, problems: list[Problem]) -> _Line | None:
    """Return a line with its amount and name read; None after a problem."""
    name, text, unit = line.name, line.amount, line.unit
    both = None if text or unit else amount_and_name(name)
    if both is not None:
        text, name = both
    match = matcher.match(name)
    try:
        amount = read_amount(text, unit)
    except ValueError as error:
        _ask(line, f"the amount {error}", problems)
        return None
    wrong, fix = _open(amount, match)
    if wrong is not None:
        _ask(line, wrong, problems, fix)
        return None
    best = min(amount.measures, key=lambda each: _RANK.get(each.unit, len(_RANK)))
    return _Line(line, name, match, amount, best)


def _open(amount: Amount, match: Match) -> tuple[str | None, str]:
    """Return what a line leaves open, and how to settle it; or None."""
    if match.absent:
        fix = "take the row out, or write what stays in the product"
        return "is taken out again, so it is not in it", fix
    if amount.question or not amount.measures:
        return amount.question or amount.unknown or "no amount is given", WRITE
    if amount.of in {"on top", "base"}:
        fix = "write its own weight, or percent of the finished product"
        return "is a share of something else", fix
    return None, ""


_RANK = {"g": 0, "ml": 1, "drop": 2}


def _ask(
    line: WrittenLine, wrong: str, problems: list[Problem], fix: str = WRITE
) -> None:
    """Add a question about a line."""
    found = " ".join(part for part in (line.name, line.amount, line.unit) if part)
    where = line.origin
    problems.append(Problem(wrong, where.file, where.row, "amount", found, fix))


def _kind(lines: Sequence[_Line], problems: list[Problem], told: list[str]) -> str:
    """Return what a recipe is written in: percent, parts or weight."""
    units = {line.measure.unit for line in lines}
    if units == {""}:
        total = sum(line.measure.span.value for line in lines)
        kind = "percent" if NEAR_100[0] <= total <= NEAR_100[1] else "parts"
        told.append(f"no line has a unit; read as {kind}")
        return kind
    for line in lines:
        if line.measure.unit == "":
            _ask(line.written, "has no unit, and other lines have one", problems)
    if units == {"%"}:
        return "percent"
    if units == {"part"}:
        return "parts"
    if "part" in units:
        _ask_what_a_part_weighs(lines, problems)
    return "weight"


def _ask_what_a_part_weighs(lines: Sequence[_Line], problems: list[Problem]) -> None:
    """Ask once, at the lines that are in no parts, what one part weighs."""
    first = next(line for line in lines if line.measure.unit == "part")
    for line in lines:
        if line.measure.unit in {"part", ""}:
            continue
        wrong = f"stands beside parts ({first.name}), and nothing tells what one weighs"
        fix = "write parts for this line too, or grams for all (1 part may be 50,g)"
        _ask(line.written, wrong, problems, fix)


def _shared(
    lines: Sequence[_Line], kind: str, problems: list[Problem]
) -> list[KitchenLine]:
    """Return lines in percent as written, or in parts of their total."""
    total = sum(line.measure.span.value for line in lines)
    if problems or total <= 0:
        return []
    times = 1.0 if kind == "percent" else 100.0 / total
    return [_line(line, line.measure.span.value * times) for line in lines]


def _line(line: _Line, percent: float) -> KitchenLine:
    return KitchenLine(line.name, percent, line.written.origin.row)


def _weighed(
    lines: Sequence[_Line], scale: Weigher, problems: list[Problem], told: list[str]
) -> list[KitchenLine]:
    """Return lines by weight in percent; those in percent are of the product."""
    grams: list[float | None] = []
    for line in lines:
        if line.measure.unit == "%":
            told.append(f"{line.name}: percent of the finished product")
            grams.append(None)
            continue
        grams.append(_grams(line, scale, problems, told))
    of_product = sum(x.measure.span.value for x in _percents(lines))
    if of_product >= 100 and not problems:
        for line in _percents(lines):
            _ask(line.written, "leaves nothing for the lines by weight", problems)
    total = sum(each for each in grams if each is not None)
    if problems or total <= 0:
        return []
    times = (100.0 - of_product) / total
    shares = [
        _line(line, line.measure.span.value if each is None else each * times)
        for line, each in zip(lines, grams, strict=True)
    ]
    return [replace(each, grams=each.percent / times) for each in shares]


def _percents(lines: Iterable[_Line]) -> list[_Line]:
    return [line for line in lines if line.measure.unit == "%"]


def _grams(
    line: _Line, scale: Weigher, problems: list[Problem], told: list[str]
) -> float:
    """Return the weight of a line, [g]; 0 after a problem."""
    disagreement = scale.disagreement(line.amount, line.match)
    if disagreement is not None:
        _ask(line.written, disagreement, problems, "keep the one that you weighed")
        return 0.0
    found = scale.best(line.amount, line.match)
    if found is not None:
        if found.measure.unit == "drop" and found.how:
            # How far a drop is off is said once, for all of them.
            told.append(f"{line.name}: {found.how.partition(' (')[0]}")
            drop = scale.drop_told()
            told += [drop] if drop not in told else []
        elif found.how:
            told.append(f"{line.name}: {found.how}")
        return found.span.value
    if certain(line.match) is not None or line.match.category is not None:
        wrong = "is a volume, and nothing tells what that much of it weighs"
        fix = "weigh it and write grams, or add its row to volumes.csv (g/ml)"
        _ask(line.written, wrong, problems, fix)
    return 0.0
